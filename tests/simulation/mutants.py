"""Ways in which sync can be broken, each a change of the source in a copy of the tree, that a history must find out."""

from __future__ import annotations

from dataclasses import dataclass

SYNC = "server/tackwatch/work/sync.py"
NEWS = "server/tackwatch/store/news.py"
DB = "server/tackwatch/store/db.py"
REFITS = "server/tackwatch/store/refits.py"
ABSORB = "client/src/store/absorb.ts"
ROUND = "client/src/sync/round.ts"


@dataclass(frozen=True, slots=True)
class Change:
    """A text in a file, which stands there once, and what takes its place."""

    file: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Mutant:
    """A broken sync. ``named``: one of those that are tried with every run of the tests."""

    name: str
    changes: tuple[Change, ...]
    named: bool = False
    on_postgres: bool = False


_DIFFER_PY = """    id_ = f"{item.id}.{name}.{lost.at}"
    if bench.difference(id_) is None:
        bench.differences[id_]"""
_DIFFER_TS = """  if (bench.difference(id)) return;
  const { kind, id: item_id } = item;"""

MUTANTS: tuple[Mutant, ...] = (
    Mutant(
        "a known number is applied again",
        (
            Change(SYNC, "    fresh = [one for one in sent if one.n > device.last_n]\n",
                   "    known = device.last_n\n"
                   "    device.last_n = min([known, *(one.n - 1 for one in sent)])\n    fresh = list(sent)\n"),
            Change(SYNC, "    operations.log(device, now, log)\n",
                   "    operations.log(device, now, [one for one in log if one.n > known])\n"
                   "    device.last_n = max(known, device.last_n)\n"),
        ),
        named=True,
    ),
    Mutant(
        "nothing locks the numbering (PostgreSQL)",
        (Change(REFITS, "        .with_for_update()\n", ""),),
        named=True,
        on_postgres=True,
    ),
    Mutant(
        "nothing locks the numbering (SQLite)",
        (Change(DB, '{"sqlite_begin": "IMMEDIATE"}', '{"sqlite_begin": "DEFERRED"}'),),
    ),
    Mutant(
        "the value that was overwritten unseen is dropped",
        (
            Change("server/tackwatch/merge/apply.py", _DIFFER_PY, _DIFFER_PY.replace(
                "    if bench.difference(id_) is None:", "    if lost.value is None:")),
            Change("client/src/merge/apply.ts", _DIFFER_TS, _DIFFER_TS.replace(
                "if (bench.difference(id)) return;", "if (lost.value !== null || bench.difference(id)) return;")),
        ),
        named=True,
    ),
    Mutant(
        "the hybrid clock takes no notice of what it receives",
        (Change(ABSORB, "last_stamp: latest(meta.last_stamp, answer),", "last_stamp: meta.last_stamp,"),
         Change(ABSORB, "/** The greatest stamp of our own", "void latest;\n/** The greatest stamp of our own")),
        named=True,
    ),
    Mutant(
        "nobody asks for the role",
        (Change(SYNC, "        check_operation(device.member_id, one.actions, at_hand.state)\n", ""),),
        named=True,
    ),
    Mutant(
        "the cursor is stored before the rows",
        (Change(ROUND, "    numbers = await absorb(copy, answer, version);",
                "    if (!answer.reset && copy.meta.aside === null)\n"
                "      await copy.setMeta(() => ({ cursor: answer.cursor }));\n"
                "    numbers = await absorb(copy, answer, version);"),),
    ),
    Mutant(
        "a phone is not sent what the merge made of its own entry",
        (Change("server/tackwatch/store/rows.py", "        return None if id_ in self._altered else self.device\n",
                "        return self.device\n"),),
    ),
    Mutant(
        "a phone is sent its own echo alone, never what others changed before it in the same row",
        (Change(NEWS, "case((ItemRow.writer == device, ItemRow.seq_others), else_=ItemRow.seq)",
                "case((ItemRow.writer == device, 0), else_=ItemRow.seq)"),),
    ),
    Mutant(
        "deletions are not sent",
        (Change(NEWS, "    return [_ALL, [or_(RecordRow.writer.is_(None), RecordRow.writer != device)], _ALL]",
                "    return [[~_FORGOTTEN], [or_(RecordRow.writer.is_(None), RecordRow.writer != device)], _ALL]"),),
    ),
    Mutant(
        "a deleted item comes back without a question",
        (Change("server/tackwatch/merge/apply.py", '    _differ(bench, item, "gone", verdict.stays, deleted)\n', ""),
         Change("client/src/merge/apply.ts", '  differ(bench, item, "gone", verdict.stays, deleted);\n', "")),
    ),
    Mutant(
        "a withdrawn key still opens",
        (Change("server/tackwatch/work/sign_in.py", "    if device.revoked_at is not None:", "    if device is None:"),
         Change(SYNC, "    if device is None or device.revoked_at is not None:", "    if device is None:")),
    ),
    Mutant(
        "a verdict is told once, and not again when its answer was lost",
        (Change(SYNC, "    refused = operations.refusals(device.id, first_n, device.last_n)\n",
                "    refused = operations.refusals(device.id, max(first_n, device.last_n), device.last_n)\n"),),
    ),
    Mutant(
        "a restored server keeps its epoch",
        (Change("server/tackwatch/work/restored.py", "refit.epoch = ports.chance.new_id()", "ports.chance.new_id()"),),
    ),
    Mutant(
        "a late first request makes a device go without deletions",
        (Change(NEWS, "    return [_ALL if cursor else [~_FORGOTTEN], _ALL, _ALL]",
                "    return [[~_FORGOTTEN], _ALL, _ALL]"),),
    ),
    Mutant(
        "what is filed while everything is loaded is not sent back",
        (Change(SYNC, "None if loading else device.id", "device.id"),),
    ),
    Mutant(
        "a clock that is turned back holds the next try",
        (Change("client/src/sync/loop.ts", "  return passed_ms < 0 ? 0 : Math.max(0, asked.wait_ms - passed_ms);",
                "  return Math.max(0, asked.wait_ms - passed_ms);"),),
    ),
    Mutant(
        "a change of the clocks leaves the alarms as they were",
        (Change("server/tackwatch/work/effects.py", "    if touched & MOVES_CLOCKS:", "    if touched & {\"step\"}:"),),
    ),
)  # fmt: skip
