"""DXF files: open them (strictly, else with repairs), settle the unit, walk the model space."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.drawings.collect import Collected
from nesting.drawings.drawing import Drawing, Note, repair, warning
from nesting.drawings.dxf_entities import READERS, kind_word
from nesting.drawings.unit import UNIT_MM, settle_unit
from nesting.errors import InputError

if TYPE_CHECKING:
    from ezdxf.audit import Auditor
    from ezdxf.document import Drawing as Document
    from ezdxf.entities.dxfentity import DXFEntity
    from ezdxf.entities.insert import Insert

STATED = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 10: "yd", 14: "dm"}
"""Values of the header variable $INSUNITS, as the DXF reference numbers them."""

DEEPEST = 16
NOT_GEOMETRY = ("TEXT", "MTEXT", "ATTDEF", "DIMENSION", "LEADER", "IMAGE", "VIEWPORT")
NOT_DRAWN_LAYER = "defpoints"  # holds the points that dimensions are made from, never geometry


def read_dxf(path: Path, unit: str | None = None) -> Drawing:
    """A DXF file of any version, text or binary; ``unit`` is what the person says, if anything.

    Raises InputError for a file that is no DXF, without a unit, or with entities out of the plane.
    """
    document, notes = _open(path)
    source = str(path)
    unit = settle_unit(source, _stated_unit(source, document), unit)
    collected = Collected(source, notes=notes)
    walk = _Walk(document, collected, UNIT_MM[unit])
    walk.all(document.modelspace())
    return collected.drawing(unit)


def _open(path: Path) -> tuple[Document, list[Note]]:
    from ezdxf import recover
    from ezdxf.filemanagement import readfile
    from ezdxf.lldxf.const import DXFStructureError

    with _said_by_the_library() as said:
        try:
            try:
                document = readfile(path)
                return document, _audited(document.audit())
            except Exception:  # of what is no sound DXF the parser raises whatever it runs into
                said.clear()
                document, auditor = recover.readfile(path)
        except Exception as error:
            why = f" ({error})" if isinstance(error, DXFStructureError) else ""
            raise InputError(
                f"{path}: this is no DXF drawing that can be read{why}; export it again as DXF"
            ) from error
    note = repair("dxf-recovered", "the DXF file is damaged and was read by its recognisable parts")
    guessed = [warning("dxf-guessed", f"in the damaged DXF file: {text}") for text in dict.fromkeys(said)]
    return document, [note, *guessed, *_audited(auditor)]


@contextmanager
def _said_by_the_library() -> Iterator[list[str]]:
    """What the library logs while it recovers a file: numbers it guessed, entries it skipped."""
    said: list[str] = []

    class Listener(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            if record.levelno >= logging.WARNING:
                said.append(record.getMessage())

    logger, listener = logging.getLogger("ezdxf"), Listener()
    propagated, logger.propagate = logger.propagate, False
    logger.addHandler(listener)
    try:
        yield said
    finally:
        logger.removeHandler(listener)
        logger.propagate = propagated


def _audited(auditor: Auditor) -> list[Note]:
    """What the library mended in the file's structure, and what it could not."""
    mended = [repair("dxf-audit", f"DXF structure ({e.code}), mended: {e.message}") for e in auditor.fixes]
    left = [
        warning("dxf-audit", f"DXF structure ({e.code}), not mended: {e.message}") for e in auditor.errors
    ]
    return [*mended, *left]


def _stated_unit(source: str, document: Document) -> str | None:
    number = int(document.header.get("$INSUNITS", 0)) if "$INSUNITS" in document.header else 0
    if number == 0:
        return None
    if number not in STATED:
        raise InputError(
            f"{source}: the drawing states its unit as $INSUNITS {number}, which no leather is drawn in; "
            f"set it to millimetres (4) or inches (1)"
        )
    return STATED[number]


class _Walk:
    """Goes through a layout and the blocks inserted in it."""

    def __init__(self, document: Document, collected: Collected, factor: float) -> None:
        self.document, self.collected, self.factor = document, collected, factor

    def all(self, entities: Iterable[DXFEntity], inherited: str = "0", depth: int = 0) -> None:
        """Read every entity; those of a block on layer 0 take the layer the block is inserted on."""
        for entity in entities:
            own = str(_attribute(entity, "layer", "0"))
            layer = inherited if own == "0" else own
            if entity.dxftype() == "INSERT":
                self._block(entity, layer, depth)  # type: ignore[arg-type]
            elif why := self._hidden(entity, layer):
                self.collected.ignored[kind_word(entity), why] += 1
            elif reader := READERS.get(entity.dxftype()):
                reader(entity, layer, self.factor, self.collected)
            else:
                why = "it is not geometry" if entity.dxftype() in NOT_GEOMETRY else "this kind is not read"
                self.collected.ignored[kind_word(entity), why] += 1

    def _block(self, insert: Insert, layer: str, depth: int) -> None:
        if why := self._hidden(insert, layer, off_too=False):
            self.collected.ignored["block", why] += 1
            return
        if depth >= DEEPEST:
            raise InputError(
                f"{self.collected.source}: blocks are nested deeper than {DEEPEST}; explode them"
            )
        for single in insert.multi_insert() if insert.mcount > 1 else (insert,):
            self.all(single.virtual_entities(skipped_entity_callback=self._skipped), layer, depth + 1)

    def _skipped(self, entity: DXFEntity, reason: str) -> None:
        self.collected.ignored[kind_word(entity), f"it cannot be taken out of its block ({reason})"] += 1

    def _hidden(self, entity: DXFEntity, layer: str, off_too: bool = True) -> str:
        if _attribute(entity, "invisible", 0):
            return "it is invisible"
        if layer.lower() == NOT_DRAWN_LAYER:
            return f"layer {layer} is never drawn"
        if not self.document.layers.has_entry(layer):
            return ""
        found = self.document.layers.get(layer)
        if found.is_frozen():
            return f"layer {layer} is frozen"
        return f"layer {layer} is off" if off_too and found.is_off() else ""


def _attribute(entity: DXFEntity, name: str, default: str | int) -> str | int:
    """An attribute of any entity; kinds that the library does not know have none."""
    found: str | int = entity.dxf.get(name, default) if entity.dxf.is_supported(name) else default
    return found
