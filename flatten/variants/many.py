"""Variants worked out, each a whole job of its own: in processes of this machine, or on a cluster that is there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from flatten.figures.report import report
from flatten.hides.parted import make_for_hides
from flatten.kept.pool import kept_on_disk, kept_pool
from flatten.machine.workers import Workers, worker_pool
from flatten.variants.measures import Measure, measures_of
from flatten.variants.settings import MOST_VARIANTS, Setting, variants_of
from meshes.base.files import shown_name
from meshes.base.problems import Problem, ProblemError
from meshes.base.progress import Progress, unheard
from meshes.schema.toml_text import parsed, text_of
from meshes.sheet.read import sheet_of_tables

AS_IT_IS = "as it is"


@dataclass(frozen=True, eq=False)
class VariantTask:
    """One variant. name: as it is told; tables: of its sheet, which stands at path; cache: whether what earlier runs
    found may serve."""

    name: str
    tables: Mapping[str, Any]
    path: Path
    cache: bool


@dataclass(frozen=True)
class Variant:
    """What one variant comes to: its figures by name, or why it is refused; told: its warnings."""

    name: str
    measures: Mapping[str, Measure]
    refused: tuple[Problem, ...] = ()
    told: tuple[Problem, ...] = ()


def worked_out_variant(task: VariantTask) -> Variant:
    """One variant, in the process that is asked."""
    try:
        with kept_pool(kept_on_disk(task.cache), 1) as pool:
            job = make_for_hides(sheet_of_tables(dict(task.tables), task.path), workers=pool)
    except ProblemError as fault:
        return Variant(task.name, {}, fault.problems)
    return Variant(task.name, measures_of(report(job)), (), job.problems)


def tasks_of(sheets: Sequence[Path], settings: Sequence[Setting], *, cache: bool = True) -> list[VariantTask]:
    """Every sheet as it is and with every choice of settings. Raises ProblemError for a sheet that cannot be read, a
    place there is not, and for what leaves nothing to compare."""
    found = []
    for path in sheets:
        tables = parsed(text_of(path), str(path))
        stem = shown_name(path.stem)
        before = f"{stem}, " if len(sheets) > 1 else ""
        found.append(VariantTask(stem if len(sheets) > 1 else AS_IT_IS, tables, path, cache))
        if settings:
            found += [VariantTask(before + name, new, path, cache) for name, new in variants_of(tables, settings)]
    if len(found) < 2:
        text = "name a second sheet, or give a value to set, as in --set pad.cushion.layer.1.thickness=30"
        raise ProblemError([Problem("V114", "compare", f"nothing to compare with: {text}")])
    if len(found) > MOST_VARIANTS:
        text = f"{len(found)} variants, at most {MOST_VARIANTS} are compared; take fewer sheets or longer steps"
        raise ProblemError([Problem("V113", "compare", text)])
    return found


def worked_out_all(
    tasks: Sequence[VariantTask],
    *,
    progress: Progress | None = None,
    workers: Workers = 2,
    scheduler: str | None = None,
) -> list[Variant]:
    """All variants in their order. scheduler: address of a dask cluster whose workers have this program installed.

    Raises ProblemError when a process or the cluster is lost.
    """
    if scheduler is not None:
        return _on_cluster(tasks, scheduler)
    with worker_pool(workers) as pool:
        return pool.map(worked_out_variant, tasks, progress or unheard, "working out the variants")


def _on_cluster(tasks: Sequence[VariantTask], scheduler: str) -> list[Variant]:
    if find_spec("distributed") is None:
        text = "a cluster needs the extra [cluster]: pip install 'trimloft[cluster]'"
        raise ProblemError([Problem("V115", "--scheduler", text)])
    from distributed import Client

    try:
        client = Client(scheduler, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as fault:
        text = f"no cluster answers at {scheduler} ({fault or type(fault).__name__}); is its scheduler running?"
        raise ProblemError([Problem("V116", "--scheduler", text)]) from None
    with client:
        # The files of another machine are its own: nothing that is kept there is asked for.
        futures = client.map(worked_out_variant, list(tasks), pure=False)
        found: list[Variant] = client.gather(futures)
        return found
