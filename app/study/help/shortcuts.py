"""Every key of the window, as one sheet. A test holds it to what the window really does."""

from __future__ import annotations

SHORTCUTS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("Study", (
        ("Ctrl+O", "Open…"), ("Ctrl+Alt+O", "Import with options…"), ("Ctrl+N", "New study"), ("Ctrl+D", "Open demo"),
        ("Ctrl+S", "Save study"), ("Ctrl+Shift+S", "Save study as…"), ("Ctrl+E", "Export header…"),
        ("Ctrl+Alt+R", "Report and archive…"), ("Ctrl+Q", "Quit"))),
    ("Edit", (
        ("Ctrl+Z", "Undo"), ("Ctrl+Shift+Z or Ctrl+Y", "Redo"), ("Ctrl+M", "Set reference"),
        ("Ctrl+B", "Switch between A and B"), ("Ctrl+Shift+F", "Find settings…"),
        ("Ctrl+Alt+Y", "Carry over…"), ("F5", "Score again"),
        ("Ctrl+Shift+M", "Copy score as text"), ("Ctrl+Shift+A", "Copy attempts as text"),
        ("Ctrl+Shift+P", "Copy current tab as text"), ("Ctrl+Alt+M", "Copy map or curve as text"))),
    ("Recordings", (
        ("Alt+Down", "Next recording"), ("Alt+Up", "Previous recording"), ("Ctrl+I", "Edit properties…"),
        ("Ctrl+L", "Leave out of score…"), ("Ctrl+Shift+L", "Return to score"),
        ("Del", "in the list: Remove from study"), ("Ctrl+C", "in the list: Copy selected rows as text"),
        ("Ctrl+Shift+C", "Copy table as text"), ("Ctrl+R", "Record from boards…"), ("Ctrl+Alt+Q", "Check quality…"),
        ("Ctrl+Alt+K", "Calibration and self-test…"), ("Ctrl+Alt+S", "Sealed set…"),
        ("Ctrl+Alt+X", "Delete a person's recordings…"),
        ("F5, F6, F7, F8", "while boards are recorded: Start fall, Start activity, End label, Undo label"),
        ("Ctrl+Alt+A", "Sensor orientation…"), ("Ctrl+Alt+F", "Locate missing recordings…"))),
    ("Labels", (
        ("F2", "Go to label lane"), ("Ctrl+Alt+L", "Import labels…"), ("Ctrl+Alt+W", "Export labels…"),
        ("Ctrl+Alt+T", "All labels…"),
        ("Ctrl+Alt+E", "Label whole recordings…"), ("Ctrl+Alt+N", "Propose onsets"),
        ("Ctrl+Alt+D", "Check labels…"), ("Ctrl+Alt+C", "Label time offset…"))),
    ("Go to", (
        ("Ctrl+F", "Filter"), ("Ctrl+1", "Recordings"), ("Ctrl+2", "Trace"), ("Ctrl+3", "Settings"),
        ("Ctrl+4", "Score"), ("Ctrl+5", "Attempts"), ("Ctrl+6", "Breakdown"), ("Ctrl+7", "Side by side"),
        ("Ctrl+8", "A and B"), ("Ctrl+9", "History"), ("Ctrl+0", "Map and curve"), ("Ctrl+Shift+D", "Device…"),
        ("Ctrl+Alt+J", "Messages…"), ("F10", "Menu"), ("F1", "Help"),
        ("Shift+F1", "About Plumbfall…"))),
    ("View", (
        ("Ctrl+Alt+0", "Follow system"), ("Ctrl+Alt+1", "Light"), ("Ctrl+Alt+2", "Dark"), ("Ctrl+,", "Preferences…"))),
    ("Trace", (
        ("Left, Right", "Playhead by a sample; with Shift by ten, with Ctrl by a second"),
        ("Home, End", "Playhead to either end"), ("Space", "Play or stop"), ("1, 2, 4", "Speed of playing"),
        ("0", "Fit the whole recording"), ("Ctrl++", "Zoom in"), ("Ctrl+-", "Zoom out"),
        ("Ctrl+[", "Trim: begin at the playhead"), ("Ctrl+]", "Trim: end at the playhead"),
        ("Ctrl+\\", "Take the trimmed ends back"), ("Ctrl+Alt+U", "Sensor orientation from playhead…"),
        ("Ctrl+C", "Copy samples in view as text"), ("Ctrl+Alt+G", "Save trace as picture…"))),
    ("Label lane", (
        ("Ins", "New label at playhead"), ("W", "Label whole recording"), ("Down, Up", "Next label, previous label"),
        ("F", "Label as fall"), ("O", "Label as other activity"), ("1 to 9", "Set one of the activities in use"),
        ("N", "Name activity…"), ("C", "Comment…"), ("A", "Annotator…"), ("Shift+A", "Annotator of new labels…"),
        ("[", "Start at playhead"), ("]", "End at playhead"), ("S", "Split at playhead"), ("J", "Join with next"),
        ("Return", "Confirm proposed onset"), ("Del", "Remove label"),
        ("Left, Right", "Move by a sample; with Shift by ten"),
        ("Ctrl+Left, Ctrl+Right", "Move the start; with Shift by ten samples"),
        ("Alt+Left, Alt+Right", "Move the end; with Shift by ten samples"), ("K", "Label time offset…"),
        (", and .", "Playhead by a sample"), ("Escape", "Take back the drag"))),
)
