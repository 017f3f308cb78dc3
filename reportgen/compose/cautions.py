"""What the program says about itself in every document and on the command line. Own words; it declares nothing."""

from __future__ import annotations

CAUTIONS = (
    "This document was calculated and assembled by a program from files that people supplied. It is no regulatory "
    "decision and no advice, and does not replace the judgment of qualified engineers, statisticians and reviewers.",
    "The program did not see the devices and did not witness the tests. It checks what the files say, not whether they "
    "are true.",
    "Limits, confidence and reliability levels and the choice of worst case are the manufacturer's own, taken from the "
    "records and procedures named here.",
    "'Met' means that the stated statistical criterion holds for the data supplied. It does not show clinical safety "
    "or effectiveness.",
    "Bounds assume specimens drawn at random and independently from the production they stand for, and tolerance "
    "bounds the distribution named as well; checks reported beside them can contradict these assumptions but never "
    "prove them.",
    "Results from different fixtures, rates or conditioning are not comparable unless a study shows that they are.",
    "Standards and clauses are cited by number and topic only. Check edition, recognition and wording in your licensed "
    "copy. The program makes no declaration of conformity.",
    "Signatures, dates and approval stay with qualified people, outside the program.",
    "Local regulations apply, and the agency or notified body decides. Rules change; nothing here says that a "
    "submission is complete or will be accepted.",
    "The user validates this program for its intended use before relying on it, and keeps the record.",
)

# for the foot of a page and for the help of a command
SHORT_CAUTION = (
    "Supports, and does not replace, engineering, statistical and regulatory judgment. Limits and claims are the "
    "manufacturer's. Review and signature by qualified people."
)

DRAFT_NOTE = "Draft - not for submission"
