"""A rough deck that shares no formula with `groovewright.simulate`: what the coverage of captures is proved on.

Everything is worked out on samples. The stylus's place comes from points and circles in the plane of the record; the
tip is a circle that is laid on each wall and lifted until it touches; equalisation, arm and subsonic filter are
analogue networks through the bilinear transform; flutter is filtered noise; nothing is a series or a sum of known
sines but the tones of the record themselves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.signal import bilinear, butter, lfilter, resample_poly, sosfilt

RATE_HZ = 48_000
OVER = 2
KNOTS_HZ = 500
FLUTTER_HZ = 1000
TURN = 2 * math.pi * (100 / 3) / 60
EDGE_S = 0.01


@dataclass
class RoughDeck:
    """Truth of one deck, record and recorder; lengths in mm, angles in degrees, speeds in cm/s."""

    pivot_to_spindle: float = 222.0
    effective_length: float = 239.5
    offset_angle: float = 23.0
    vertical_angle: float = 23.0
    cutting_angle: float = 21.0
    azimuth: float = 0.0
    leak: complex = 0.0
    balance_db: float = 0.0
    second: float = 0.0
    speed_percent: float = 0.0
    eccentricity: float = 0.0
    eccentricity_phase: float = 0.0
    flutter_percent: float = 0.0
    flutter_band_hz: tuple[float, float] = (0.5, 8.0)
    line_flutter: tuple[float, float] = (8.0, 0.0)
    resonance: tuple[tuple[float, float], tuple[float, float]] = ((9.0, 2.5), (10.0, 2.5))
    tip_um: float = 0.0
    networks_percent: tuple[tuple[float, float, float], tuple[float, float, float]] = ((0.0,) * 3, (0.0,) * 3)
    subsonic: tuple[float, int] | None = None
    cut_azimuth: float = 0.0
    cut_balance_db: float = 0.0
    cut_level_db: float = 0.0
    cut_scatter_db: float = 0.0
    cut_flutter_percent: float = 0.0
    cut_pitch_percent: float = 0.0
    clock_ppm: float = 0.0
    warp_mm: float = 0.0
    warp_waves: int = 1
    warp_lever: float = 0.1
    rumble_cm_s: tuple[float, float] = (0.0, 0.0)
    surface_cm_s: float = 0.0
    ticks_a_minute: float = 0.0
    hum: tuple[float, float] = (50.0, 0.0)
    recorder_noise: float = 1e-5
    level: float = 0.05
    starts_off_s: float = 0.0


def filtered_noise(rms, band_hz, count, rate_hz, rng):
    """Noise of Butterworth's band, first order at either side, of this rms over a long time."""
    sos = butter(1, band_hz, "bandpass", fs=rate_hz, output="sos")
    settle = int(4 * rate_hz / band_hz[0])
    raw = sosfilt(sos, rng.standard_normal(count + settle))[settle:]
    impulse = np.zeros(int(20 * rate_hz / band_hz[0]))
    impulse[0] = 1
    return rms * raw / math.sqrt(float((sosfilt(sos, impulse) ** 2).sum()))


def flutter_course(deck, seconds, rng):
    """Relative speed of the platter, without the mean: noise and a line whose phase walks, at `FLUTTER_HZ`."""
    count = int(seconds * FLUTTER_HZ)
    noise = filtered_noise(deck.flutter_percent / 100, deck.flutter_band_hz, count, FLUTTER_HZ, rng)
    hz, peak = deck.line_flutter
    walk = np.cumsum(rng.standard_normal(count)) * math.sqrt(0.05 / FLUTTER_HZ) + rng.uniform(0, 2 * math.pi)
    return noise + peak / 100 * np.cos(2 * np.pi * hz * np.arange(count) / FLUTTER_HZ + walk)


def arm_course(deck, seconds, groove_cm_s, rng):
    """What the arm that rumble stirs adds to the speed of a tone: it draws the stylus along the groove."""
    count = int(seconds * FLUTTER_HZ)
    along = np.zeros(count)
    # As long as the arm: the groove angle near the rim is some 20 degrees.
    for axis, share in (
        (0, math.sin(math.radians(deck.offset_angle))),
        (1, math.tan(math.radians(deck.vertical_angle))),
    ):
        if deck.rumble_cm_s[axis]:
            velocity = filtered_noise(deck.rumble_cm_s[axis], (3.0, 25.0), count, FLUTTER_HZ, rng)
            hz, q = deck.resonance[axis]
            w = 2 * np.pi * hz
            body = lfilter(*bilinear([w / q, w * w], [1, w / q, w * w], FLUTTER_HZ), velocity)
            along += share * (body - (velocity if axis else 0))
    return along / groove_cm_s


def stylus_places(deck, angle, groove_mm_of):
    """Where the stylus stands: angle of the record passed, tracking error, groove angle.

    The pivot stands on the x axis and the record turns clockwise, away from the pivot under the stylus. Each place is
    found by turning the arm until the stylus is as far from the grooves' centre as the groove there is.
    """
    pivot = np.array([deck.pivot_to_spindle, 0.0])
    start = math.radians(deck.eccentricity_phase)
    centre = deck.eccentricity * np.exp(1j * (start - angle))
    length = deck.effective_length
    arm = np.full(angle.size, math.acos((length**2 + pivot[0] ** 2 - groove_mm_of(0.0) ** 2) / (2 * length * pivot[0])))
    passed = angle.copy()
    bearing0 = None
    for _ in range(40):
        groove = groove_mm_of(passed / TURN)
        for _ in range(4):
            place = pivot[0] - length * np.exp(1j * arm)
            away = place - centre
            slope = (away.conj() * (-1j * length * np.exp(1j * arm))).real / np.abs(away)
            arm = arm - (np.abs(away) - groove) / slope
        place = pivot[0] - length * np.exp(1j * arm)
        bearing = np.unwrap(np.angle(place - centre))
        if bearing0 is None:
            bearing0 = np.angle(pivot[0] - length * np.exp(1j * arm[0]) - centre[0])
        new = angle + (bearing - bearing0)
        if np.max(np.abs(new - passed)) < 1e-12:
            break
        passed = new
    along_arm = place - pivot[0]
    away = place - centre
    # Between the arm and the groove's tangent: what the offset of the cartridge should be.
    needed = np.degrees(np.arcsin((away.conj() * along_arm).real / np.abs(away) / length))
    return passed, needed - deck.offset_angle, needed


class Cut:
    """Displacement of both walls as cut, in cm, against the time of cutting."""

    def __init__(self, band, deck, own_db):
        self.band, self.start, self.stop = band, band.start_s, band.start_s + band.duration_s
        self.deck = deck
        directions = {
            "lateral": (1, 0),
            "vertical": (0, 1),
            "left": (0.5**0.5, 0.5**0.5),
            "right": (0.5**0.5, -(0.5**0.5)),
        }
        lateral, vertical = directions[band.cut]
        left, right = (lateral + vertical) / 2**0.5, (lateral - vertical) / 2**0.5
        turn = math.radians(deck.cut_azimuth)
        left, right = left * math.cos(turn) + right * math.sin(turn), right * math.cos(turn) - left * math.sin(turn)
        gain = 10 ** ((deck.cut_level_db + own_db) / 20)
        self.walls = (
            gain * 10 ** (deck.cut_balance_db / 40) * left,
            gain * 10 ** (-deck.cut_balance_db / 40) * right,
        )

    def displacement(self, x):
        x = np.asarray(x) - self.start
        length = self.stop - self.start
        fade = np.clip(np.minimum(x, length - x) / EDGE_S, 0, 1)
        swell = fade * fade * (3 - 2 * fade)
        pitch = 1 + self.deck.cut_pitch_percent / 100
        if self.band.kind == "sweep":
            first, last = self.band.frequency_hz
            pace = math.log(last / first) / length
            hz = first * np.exp(pace * np.clip(x, 0, length))
            return (
                swell
                * self.band.peak_velocity_cm_s
                / (2 * np.pi * hz)
                * np.sin(2 * np.pi * (hz - first) / pace * pitch)
            )
        omega = 2 * np.pi * self.band.frequency_hz[0] * pitch
        return swell * self.band.peak_velocity_cm_s / omega * np.sin(omega * x)


def touched(cut, x, speed_cm_s, tip_um):
    """Displacement of the tip's centre on each wall, in cm: the highest place to which the wall lifts a circle."""
    radius = tip_um * 1e-4
    bare = cut.displacement(x)
    walls = [share * bare for share in cut.walls]
    steepest = max(abs(share) for share in cut.walls) * float(cut.band.peak_velocity_cm_s) / speed_cm_s
    if radius == 0 or cut.band.kind == "sweep" or steepest == 0:
        return walls
    reach = radius * min(0.98, 1.5 * math.sin(math.atan(steepest)) + 0.02)
    offsets = np.linspace(-reach, reach, 17)
    heights = [[], []]
    for offset in offsets:
        there = cut.displacement(x + offset / speed_cm_s)
        for side, (sign, share) in enumerate(zip((1, -1), cut.walls, strict=True)):
            heights[side].append(sign * share * there + math.sqrt(radius**2 - offset**2) - radius)
    found = []
    for side, sign in ((0, 1), (1, -1)):
        table = np.array(heights[side])
        best = np.clip(np.argmax(table, axis=0), 1, len(offsets) - 2)
        below, at, above = (np.take_along_axis(table, (best + step)[None], 0)[0] for step in (-1, 0, 1))
        bend = below - 2 * at + above
        found.append(sign * (at - (below - above) ** 2 / (8 * bend)))
    return found


def rims(bands):
    """Times of cutting and radii between which the groove runs in a straight line."""
    times_s = np.concatenate([[b.start_s, b.start_s + b.duration_s] for b in bands])
    return times_s, np.concatenate([b.radius_mm for b in bands])


def groove_motion(deck, bands, t, seconds, rng, *, of_record):
    """Time of cutting that passes the stylus, groove speed, and the lean in each direction over it; groove angle."""
    knots_t = np.arange(int(seconds * FLUTTER_HZ) + 2) / FLUTTER_HZ
    course = np.append(flutter_course(deck, seconds, rng), [0.0, 0.0])[: knots_t.size]
    swing = np.concatenate([[0], np.cumsum(course[:-1] + course[1:])]) / 2 / FLUTTER_HZ
    angle = TURN * ((1 + deck.speed_percent / 100) * knots_t + swing)
    radius_x, radius_y = rims(bands)
    every = FLUTTER_HZ // KNOTS_HZ
    passed, error_deg, needed_deg = stylus_places(deck, angle[::every], lambda x: np.interp(x, radius_x, radius_y))
    lathe = filtered_noise(deck.cut_flutter_percent / 100, (0.5, 10.0), knots_t.size, FLUTTER_HZ, of_record)[::every]
    coarse_t = knots_t[::every]
    tau = CubicSpline(coarse_t, passed / TURN + np.cumsum(lathe) / KNOTS_HZ)(t)
    speed = TURN * np.interp(tau, radius_x, radius_y) / 10
    lean = np.tan(np.radians(np.interp(t, coarse_t, error_deg))) / speed
    rising = (math.tan(math.radians(deck.vertical_angle)) - math.tan(math.radians(deck.cutting_angle))) / speed
    return tau, speed, (lean, rising), float(np.mean(needed_deg))


def slow_motion(deck, tau, rate, rng):
    """What moves the stylus slowly, lateral and vertical, in cm: rumble, and a warp."""
    slow = np.zeros((2, tau.size))
    for axis in (0, 1):
        if deck.rumble_cm_s[axis]:
            slow[axis] = np.cumsum(filtered_noise(deck.rumble_cm_s[axis], (3.0, 25.0), tau.size, rate, rng)) / rate
    warp = deck.warp_mm / 10 * np.cos(deck.warp_waves * TURN * tau + 1.0)
    slow[1] += warp
    return slow, warp


def cut_and_traced(deck, bands, rate, of_record):
    """Every band with a spline of the lateral and vertical motion of a tip in its groove."""
    found = []
    own = of_record.standard_normal(len(bands)) * deck.cut_scatter_db
    for band, own_db in zip(bands, own, strict=True):
        if band.kind == "silence":
            continue
        cut = Cut(band, deck, own_db)
        grid = np.arange(cut.start - 0.02, cut.stop + 0.02, 1 / rate)
        left, right = touched(cut, grid, TURN * float(np.mean(band.radius_mm)) / 10, deck.tip_um)
        found.append((cut, CubicSpline(grid, np.stack([(left + right), (left - right)]) / 2**0.5, axis=1)))
    return found


def stylus(traced, tau, leans):
    """Lateral and vertical motion of a stylus that leans, in cm: it reads where it is, and is where it reads."""
    lean, rising = leans
    y = np.zeros((2, tau.size))
    for cut, spline in traced:
        part = slice(*np.searchsorted(tau, (cut.start, cut.stop)))
        x = tau[part].copy()
        for _ in range(8 if cut.band.kind == "tone" else 1):
            y[:, part] = spline(x)
            x = tau[part] + lean[part] * y[0, part] - rising[part] * y[1, part]
    return y


def walls_of(deck, bands, t, seconds, rng, *, of_record):
    """Velocity along both walls that the generator is moved by, in cm/s."""
    rate = RATE_HZ * OVER
    tau, speed, leans, needed_deg = groove_motion(deck, bands, t, seconds, rng, of_record=of_record)
    slow, warp = slow_motion(deck, tau, rate, rng)
    tau = tau + deck.warp_lever * warp / speed
    traced = cut_and_traced(deck, bands, rate, of_record)
    y = stylus(traced, tau, leans) + slow
    bodies = np.zeros_like(y)
    for axis, (hz, q) in enumerate(deck.resonance):
        w = 2 * np.pi * hz
        bodies[axis] = lfilter(*bilinear([w / q, w * w], [1, w / q, w * w], rate), y[axis])
    # An arm that rises or falls against the record draws the stylus along; one that rides over a warp with it does not.
    over = bodies[1] - slow[1]
    along = math.sin(math.radians(needed_deg)) * bodies[0] + math.tan(math.radians(deck.vertical_angle)) * over
    y = stylus(traced, tau + along / speed, leans) + slow - bodies
    velocity = (8 * (np.roll(y, -1, 1) - np.roll(y, 1, 1)) - (np.roll(y, -2, 1) - np.roll(y, 2, 1))) * rate / 12
    return np.stack([velocity[0] + velocity[1], velocity[0] - velocity[1]]) / 2**0.5


def with_surface(deck, walls, seconds, rng):
    """Velocity of both walls with the record's noise and ticks."""
    if deck.surface_cm_s:
        # Falling 3 dB an octave or so: two shelves.
        noise = [lfilter([1, -0.9], [1, -0.98], rng.standard_normal(walls.shape[1])) for _ in walls]
        walls = walls + deck.surface_cm_s * np.stack(noise)
    for at in rng.uniform(0, seconds, rng.poisson(deck.ticks_a_minute * seconds / 60)):
        first = int(at * RATE_HZ * OVER)
        size = rng.exponential(15.0, 2) * rng.choice([-1, 1], 2)
        step = np.arange(200)[: max(0, walls.shape[1] - first)]
        walls[:, first : first + step.size] += size[:, None] * np.exp(-step / 6.0) * np.cos(step / 5)
    return walls


def generated(deck, walls):
    """Voltages of both channels, full scale 1: the generator's curve, turn, leak and gains."""
    walls = walls + deck.second / 10 * walls**2
    turn = math.radians(deck.azimuth)
    left = walls[0] * math.cos(turn) + walls[1] * math.sin(turn)
    right = walls[1] * math.cos(turn) - walls[0] * math.sin(turn)
    # A leak that grows with frequency beside one that does not: its value is that at 1 kHz.
    growing = np.stack([np.gradient(one) for one in (right, left)]) * RATE_HZ * OVER / (2 * np.pi * 1000)
    left, right = (
        left + deck.leak.real * right + deck.leak.imag * growing[0],
        right + deck.leak.real * left + deck.leak.imag * growing[1],
    )
    return np.stack([left * 10 ** (deck.balance_db / 40), right * 10 ** (-deck.balance_db / 40)]) * deck.level / 5


def through_the_phono_stage(deck, channels):
    """Both channels through networks of their own, and the subsonic filter."""
    rate, out = RATE_HZ * OVER, []
    for channel, percent in zip(channels, deck.networks_percent, strict=True):
        t1, t2, t3 = (tau0 * (1 + p / 100) for tau0, p in zip((3180e-6, 318e-6, 75e-6), percent, strict=True))
        s = 2j * np.pi * 1000
        gain = abs((1 + s * t1) * (1 + s * t3) / (1 + s * t2))
        out.append(lfilter(*bilinear([gain * t2, gain], [t1 * t3, t1 + t3, 1], rate), channel))
    if deck.subsonic is None:
        return np.stack(out)
    hz, order = deck.subsonic
    return sosfilt(butter(order, hz, "highpass", fs=rate, output="sos"), np.stack(out))


def recording_of(deck, bands, rng, of_record=None):
    """Samples of the recording, shape (frames, 2), at `RATE_HZ`; bands as truly cut, each with its start and length.

    `of_record` draws what the lathe did, alike in every play of one record if it begins alike; `rng` draws the rest.
    """
    seconds = bands[-1].start_s + bands[-1].duration_s + 1.0
    t = np.arange(int(seconds * RATE_HZ * OVER)) / (RATE_HZ * OVER) / (1 + deck.clock_ppm * 1e-6)
    walls = with_surface(deck, walls_of(deck, bands, t, seconds, rng, of_record=of_record or rng), seconds, rng)
    samples = resample_poly(through_the_phono_stage(deck, generated(deck, walls)), 1, OVER, axis=1)
    time = np.arange(samples.shape[1]) / RATE_HZ
    hz, size = deck.hum
    for number, part in ((1, 1.0), (2, 0.2), (3, 0.5)):
        samples += size * part * np.cos(2 * np.pi * number * hz * time + number) * np.array([[1.0], [0.7]])
    samples += deck.recorder_noise * rng.standard_normal(samples.shape)
    return np.round(np.clip(samples, -1, 1) * 2**23).T / 2**23
