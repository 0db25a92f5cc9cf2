"""The lesson: why fill volume matters. Scenes, exercises, the class's numbers, and the projector view.

`texts` holds every sentence, one file per language; `numbers` asks `calc` for every number; `pictures` draws them;
`scenes` and `classroom` put them on the screen, one class per scene; `exercises` asks and checks; `projector` shows one
scene at a time, `server` serves it, and `room` keeps what the class typed.
"""

from calc.lesson.projector import Deck, Lesson

__all__ = ["Deck", "Lesson"]
