"""The cautions that stand on every page of training; test pages, the plan and the card have their own."""

CAUTIONS = (
    "Training can hurt. Whether a load is safe for you is for your physician and local practice to say, before you start.",
    "Chest pain, fainting or unusual breathlessness ends the session: stop and get help.",
    "This report judges recordings. It does not diagnose, and it is no substitute for a licensed professional.",
)
