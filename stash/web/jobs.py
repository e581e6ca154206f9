"""Long work off the answering thread: started, looked at, and kept until newer work takes its place."""

from __future__ import annotations

import logging
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from stash.errors import Conflict, NotFound, StashError

Result = TypeVar("Result")
log = logging.getLogger(__name__)

_KEPT = 12


@dataclass
class Job(Generic[Result]):
    """One piece of long work.

    Args:
        told: The last thing it said about how far it is.
        result: What came out, None while it runs or when it failed.
        failure: Why it failed, None when it did not.
        done: Set when it has ended.
        cancelled: Set to make it stop.
    """

    told: object = None
    result: Result | None = None
    failure: StashError | None = None
    done: threading.Event = field(default_factory=threading.Event)
    cancelled: threading.Event = field(default_factory=threading.Event)


class Jobs(Generic[Result]):
    """The jobs of one application, one running at a time."""

    def __init__(self) -> None:
        self._jobs: OrderedDict[str, Job[Result]] = OrderedDict()
        self._lock = threading.Lock()

    def start(self, work: Callable[[Job[Result]], Result], wait_s: float) -> str:
        """Start a job, and wait a moment for quick ones.

        Args:
            work: Does it; receives its job, to say how far it is and to see whether to stop.
            wait_s: How long to wait.

        Returns:
            The ticket to look at it with.

        Raises:
            Conflict: Another one is running.
        """
        job: Job[Result] = Job()
        ticket = secrets.token_urlsafe(12)
        with self._lock:
            if any(not each.done.is_set() for each in self._jobs.values()):
                raise Conflict("Another plan is being made", "Wait until it is done, or stop it.")
            self._jobs[ticket] = job
            while len(self._jobs) > _KEPT:
                self._jobs.popitem(last=False)
        threading.Thread(target=_run, args=(job, work), daemon=True).start()
        job.done.wait(wait_s)
        return ticket

    def look(self, ticket: str) -> Job[Result]:
        """Return a job.

        Raises:
            NotFound: It is not kept any more.
        """
        job = self._jobs.get(ticket)
        if job is None:
            raise NotFound("That plan is not kept any more", "Plan again; the stock may have changed anyway.")
        return job


def _run(job: Job[Result], work: Callable[[Job[Result]], Result]) -> None:
    try:
        job.result = work(job)
    except StashError as error:
        job.failure = error
    except Exception:
        log.exception("long work failed")
        job.failure = StashError("The program met something it did not expect", "The log has the details.")
    finally:
        job.done.set()
