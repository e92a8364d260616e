"""The plan of the work: who does which step when. Pure, like ``merge``; it may ask ``trade`` for cure times."""
