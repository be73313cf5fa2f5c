"""Our own icons: strokes on a 24 by 24 grid, drawn in the colour of the text beside them."""

DOT = 'fill="currentColor" stroke="none"'

ICONS = {
    "mark": '<path d="M21 12a9 9 0 1 1-9-9"/><path d="M16.5 12a4.5 4.5 0 1 1-4.5-4.5"/><path d="M21 3 13.2 10.8"/>'
    f'<circle cx="12" cy="12" r="1.6" {DOT}/>',
    "jobs": '<path d="M4 5h16M4 12h16M4 19h10"/><path d="m17 19 1.5 1.5L22 17"/>',
    "workshop": '<path d="M3 20h18M5 20v-9l7-6 7 6v9"/><path d="M10 20v-5h4v5"/>',
    "gauges": '<path d="M2.500 8.500h19v7h-19z"/><path d="M6.500 8.500v3m4-3v4.200m4-4.200v3m4-3v4.200"/>',
    "take-in": '<path d="M4 14v5h16v-5"/><path d="M12 4v10m-4-4 4 4 4-4"/>',
    "choose": '<circle cx="9.5" cy="14" r="6.5"/><circle cx="9.5" cy="14" r="1.2"/><path d="M20 4v9l-6.5 4"/>',
    "plate": '<path d="M3 5h18v14H3z"/><path d="M6 16C8 11 12 8.5 18 8"/><path d="M10 13.500v-3m4 1.500V9"/>',
    "readings": '<path d="M3 17a9 9 0 0 1 18 0"/><path d="m12 17 4-6"/><path d="M3 20h18"/>',
    "bench": f'<path d="M5 4v16M19 4v16M2 8h20M2 16h20"/><circle cx="10" cy="8" r="2.600" {DOT}/>'
    f'<circle cx="15" cy="16" r="2.600" {DOT}/>',
    "captures": '<path d="M3 12h2l2-5 3 11 3-14 3 12 2-6 1 2h2"/>',
    "verdicts": f'<path d="M5 5v14M19 5v14M2 12h20"/><circle cx="12" cy="12" r="3" {DOT}/>',
    "report": '<path d="M6 3h9l4 4v14H6z"/><path d="M9 11h7M9 14.500h7M9 18h4"/>',
    "light": '<circle cx="12" cy="12" r="4"/>'
    '<path d="M12 2v3m0 14v3M2 12h3m14 0h3M5 5l2 2m10 10 2 2M19 5l-2 2M7 17l-2 2"/>',
    "dark": '<path d="M20 14.500A8.5 8.5 0 1 1 9.5 4 7 7 0 0 0 20 14.500z"/>',
    "auto": f'<circle cx="12" cy="12" r="8.5"/><path d="M12 3.500a8.5 8.5 0 0 1 0 17z" {DOT}/>',
    "done": '<path d="m5 12.5 4.5 4.500L19 7.5"/>',
    "next": '<path d="m9 5 7 7-7 7"/>',
    "stale": '<path d="M19.5 12a7.5 7.5 0 1 1-2.2-5.300L20 9.5"/><path d="M20 4v5.500h-5.5"/>',
    "look": f'<path d="M12 3 22 20H2z"/><path d="M12 9.500v5"/><circle cx="12" cy="17.3" r="1.1" {DOT}/>',
    "note": f'<circle cx="12" cy="12" r="9"/><path d="M12 11v6"/><circle cx="12" cy="7.5" r="1.1" {DOT}/>',
    "add": '<path d="M12 5v14M5 12h14"/>',
    "download": '<path d="M12 3v12m-4.5-4.500L12 15l4.5-4.5"/><path d="M4 20h16"/>',
    "print": '<path d="M7 9V3h10v6M7 17H4V9h16v8h-3"/><path d="M7 14h10v7H7z"/>',
    "in tolerance": f'<path d="M4 5v14M20 5v14"/><circle cx="12" cy="12" r="3.4" {DOT}/>',
    "out of tolerance": f'<path d="M3 5v14M12 5v14"/><circle cx="19" cy="12" r="3.4" {DOT}/>',
    "undecided": '<path d="M4 5v14M15 4v16"/><path d="M8 12h14" stroke-width="4.5"/>',
    "found": '<path d="m12 4 7 8-7 8-7-8z"/>',
    "now": f'<circle cx="12" cy="12" r="6" {DOT}/>',
    "calculated": '<path d="M4 5v14M20 5v14"/>'
    '<circle cx="12" cy="12" r="4" stroke-dasharray="2.6 2.4" stroke-width="2"/>',
}


def icon_svg(name: str) -> str:
    """Return the icon as SVG text; it is decoration, so screen readers pass it by."""
    attributes = f'class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false" data-icon="{name}"'
    return f"<svg {attributes}>{ICONS[name]}</svg>"
