"""Line drawings of headshell, arm and gauges, with the arrow and the sign of every reading and every move.

For the templates of other pages: `{% load drawings %}`, and `<link rel="stylesheet" href="{% static
'drawings/drawings.css' %}">` in the head. Every tag gives one `<figure class="drawing">` with one to three small views
and a caption that says in words what + means; it takes the width that it is given and stays readable from 150 px up.

- `{% drawing_of_reading kind %}`: a kind of reading that is typed, such as ``"overhang"``;
- `{% drawing_of_move adjuster sign %}`: an adjuster such as ``"slide_mm"`` and ``"+"``, ``"-"`` or an amount;
- `{% drawing_of_moves amounts %}`: `Adjustments` or amounts by adjuster, drawn together as they are made with one
  loosening; an adjuster that is not moved is left out;
- `{% drawing_of_fold subject %}`: the numbers of a fold of the take-in, such as ``"arm_build"``;
- `{% drawing_of_gauge key %}`: a ready gauge with its joints numbered, such as ``"beam"``;
- `{% drawing_of_setting key %}`: one of the seven settings in three views;
- `kind|has_drawing_of_reading`, `key|has_drawing_of_gauge`: whether there is a drawing.

Where the page says the same in words beside it, put the drawing into `<div class="drawn-brief">`: only the views are
then seen, and a screen reader still hears what they mean. Views want 100 px or more.

A key without a drawing raises a `KeyError`, so that a page never shows an empty frame.

Which way an arrow points is not drawn by hand. Marks are given in the arm's frame of docs/design/arm-model.md (x
forward, y outward, z up), and `views` turns them into the plane of each view.
"""
