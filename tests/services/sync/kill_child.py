"""A process that forks senders for the kill test: imports once, so that a round takes no time.

Reads one line a round from standard input and answers with the pid of the sender it forked. A
sender stores batches until it is killed, and writes each id to the acknowledgement file only
after it holds the receipt.
"""

import os
import signal
import sys
from itertools import count

from sqlmodel import Session, select

from app.records.database import open_engine
from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import a_reading, send


def sender(url: str, acknowledged: str) -> None:
    engine = open_engine(url)
    with Session(engine, expire_on_commit=False) as session, open(acknowledged, "a") as log:
        person = session.exec(select(Person)).one()
        structure = session.exec(select(Structure)).one()
        session.commit()
        for _ in count():
            batch = [a_reading(structure, person) for _ in range(5)]
            with open(acknowledged + ".tried", "a") as tried:
                tried.write("".join(e["id"] + "\n" for e in batch))
            for receipt in send(session, person, *batch):
                if receipt.state == "stored":
                    log.write(receipt.id + "\n")
            log.flush()


def main() -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for _ in sys.stdin:
        pid = os.fork()
        if pid == 0:
            sender(*sys.argv[1:3])
            os._exit(0)
        sys.stdout.write(f"{pid}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
