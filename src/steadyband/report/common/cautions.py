"""The cautions that stand on every page."""

CAUTIONS = (
    "Exercise tests, finger-pricks and training loads can hurt. Whether a test or a load is safe for you is for your "
    "physician and local practice to say, before you start.",
    "Chest pain, fainting or unusual breathlessness ends the session: stop and get help.",
    "One single-use lancet for each prick, never shared; clean hands and surfaces; used lancets into a sharps box, by "
    "local rules.",
    "This report judges recordings. It does not diagnose, and it is no substitute for a licensed professional.",
)
