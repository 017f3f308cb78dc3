"""The templates of the documents: the shipped ones, each replaced by the project's own of the same name."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from reportgen.problems import Place, Problem, UnreadableInput, did_you_mean
from reportgen.project.folder import ProjectFolder, printable
from reportgen.project.shipped import shipped_folder
from reportgen.project.texts import decode

OWN = "templates"
SUFFIXES = (".j2", ".jinja", ".md", ".html", ".txt", ".css")


@dataclass(frozen=True, slots=True)
class TemplateText:
    """A template: its name (the path below its folder), its text, and where it stands for messages."""

    name: str
    text: str
    place: Place


def read_templates(folder: Path) -> tuple[TemplateText, ...]:
    """All templates by name, those in the project's `templates/` before the shipped ones.

    A template of the project's own that replaces none must begin with `_` (a part that others include): otherwise a
    slip in its name would leave the shipped one in force without a word.
    Raises: UnreadableInput with every problem.
    """
    problems: list[Problem] = []
    shipped = _texts(ProjectFolder(shipped_folder(OWN).parent), shipped=True, problems=problems)
    own = _texts(ProjectFolder(folder), shipped=False, problems=problems)
    for name, template in own.items():
        if name not in shipped and not PurePosixPath(name).name.startswith("_"):
            problems.append(
                Problem(
                    place=template.place,
                    found=f"the template {name!r}, which replaces none",
                    expected="the name of a shipped template, or a name that begins with '_' for a part",
                    mend=did_you_mean(name, tuple(shipped)),
                )
            )
    if problems:
        raise UnreadableInput(problems)
    return tuple({**shipped, **own}[name] for name in sorted({*shipped, *own}))


def template_files(root: Path) -> tuple[str, ...]:
    """Paths of the template files in the folder's `templates/`, sorted; hidden ones and READMEs left out."""
    top = root / OWN
    if not top.is_dir():
        return ()
    found = (path.relative_to(root) for path in top.rglob("*") if path.suffix.lower() in SUFFIXES and not path.is_dir())
    return tuple(
        sorted(
            printable(path.as_posix())
            for path in found
            if not any(part.startswith(".") for part in path.parts) and path.stem.lower() != "readme"
        )
    )


def _texts(folder: ProjectFolder, *, shipped: bool, problems: list[Problem]) -> dict[str, TemplateText]:
    texts = {}
    for file in template_files(folder.root):
        data = folder.read(file)
        if data is None:
            continue
        text = decode(data, file=file) if data.strip() else ""  # an empty template is a way to leave a part out
        if isinstance(text, Problem):
            folder.problems.append(text)
            continue
        name = file.removeprefix(f"{OWN}/")
        texts[name] = TemplateText(name, text, Place(f"shipped {file}" if shipped else file))
    problems.extend(folder.problems)
    return texts
