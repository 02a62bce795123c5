"""What is chosen for a job when its files are written: the paper, and which side of the leather is drawn."""

from dataclasses import replace

from flatten.job.pipeline import Job
from flatten.paper.pages import PAGE_MM
from flatten.pieces.turned_over import flesh_side_up
from meshes.base.problems import Problem, ProblemError


def paper_named(name: str) -> str:
    """The paper's name as the pages know it. Raises ProblemError for one they do not."""
    if name.lower() not in PAGE_MM:
        raise ProblemError(
            [Problem("P201", "--page", f"no such paper: found {name!r}; use one of {', '.join(PAGE_MM)}")]
        )
    return name.lower()


def seen_from_flesh(job: Job) -> Job:
    """The job with all its pieces drawn as seen from the flesh side, for marking out on it."""
    over, others = (tuple(flesh_side_up(piece) for piece in some) for some in (job.pieces, job.others))
    return replace(job, pieces=over, others=others)
