"""`sillbook person` and `sillbook settings`: what the steward's pages do, by verbs.

What is done here stands in the trail as done by the server: whoever has its files needs no role.
A password is asked for, or read from standard input; it never stands on the command line.
"""

import getpass
import sys
from typing import Annotated

import typer

from app.commands.context import DataOption, JsonOption, show_list, verb
from app.records.people import Person
from app.services.settings import change
from app.services.settings import page as settings_page
from app.services.sites import accounts, people
from app.services.sites.tables import people_table

person = typer.Typer(help="People who sign in.", no_args_is_help=True)

WhyOption = Annotated[str, typer.Option("--reason", help="Why; it stands in the trail.")]
ReasonOption = Annotated[str, typer.Option("--reason", help="Why; it stands beside the value.")]


@person.command("add")
def person_add(
    name: str,
    role: Annotated[str, typer.Option(help="crew, office or steward")] = "crew",
    data: DataOption = None,
) -> None:
    """Add a person; the password is asked for, or read from standard input.

    Example: sillbook person add "A. Keeper" --role steward
    """
    password = asked_for()
    with verb(data, make=True) as session:
        accounts.add_person(session, name, role, password)
        session.commit()
    print(f"{name} added as {role}")


@person.command("list")
def person_list(as_json: JsonOption = False, data: DataOption = None) -> None:
    """List the people who may sign in, and those who are retired.

    Example: sillbook person list --json
    """
    with verb(data, as_json=as_json) as session:
        table = people_table(session)
    if as_json:
        show_list(table)
        return
    for row in table.rows:
        standing = "" if row["active"] else ", retired: may not sign in"
        print(f"{row['id']}\t{row['name']}\t{row['role']}{standing}")


@person.command("role")
def person_role(
    name: str,
    role: Annotated[str, typer.Argument(help="crew, office or steward")],
    data: DataOption = None,
) -> None:
    """Give a person another role; one active steward must remain.

    Example: sillbook person role "A. Keeper" office
    """
    with verb(data) as session:
        people.change_role(session, id_of(people.named(session, name)), role, None)
        session.commit()
    print(f"{name} is {role} now")


@person.command("password")
def person_password(name: str, data: DataOption = None) -> None:
    """Set a person's password, asked for or read from standard input; their sign-ins end.

    Example: sillbook person password "A. Keeper"
    """
    password = asked_for()
    with verb(data) as session:
        people.set_password(session, id_of(people.named(session, name)), password, None)
        session.commit()
    print(f"{name} has a new password, and is signed in nowhere")


@person.command("rename")
def person_rename(name: str, new_name: str, data: DataOption = None) -> None:
    """Give a person another name; the earlier one stays theirs and is given to nobody else.

    Example: sillbook person rename "A. Keeper" "A. B. Keeper"
    """
    with verb(data) as session:
        people.rename(session, id_of(people.named(session, name)), new_name, None)
        session.commit()
    print(f"{name} is {new_name} now")


@person.command("retire")
def person_retire(name: str, reason: WhyOption = "", data: DataOption = None) -> None:
    """Retire a person: all their sign-ins end at once; what they typed stays theirs.

    Example: sillbook person retire "A. Keeper" --reason "left in March"
    """
    with verb(data) as session:
        people.retire(session, id_of(people.named(session, name)), None, reason)
        session.commit()
    print(f"{name} is retired, and is signed in nowhere")


@person.command("restore")
def person_restore(name: str, reason: WhyOption = "", data: DataOption = None) -> None:
    """Take a retired person back, with the role and the password they had.

    Example: sillbook person restore "A. Keeper"
    """
    with verb(data) as session:
        back = people.take_back(session, id_of(people.named(session, name)), None, reason)
        session.commit()
    print(f"{name} may sign in again, as {back.role}")


def id_of(somebody: Person) -> int:
    assert somebody.id is not None
    return somebody.id


def asked_for() -> str:
    """Return a password typed twice, or the first line of standard input."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    password = getpass.getpass("Password: ")
    if getpass.getpass("Again: ") != password:
        raise typer.BadParameter("the two passwords differ")
    return password


settings = typer.Typer(help="What the office sets for everybody.", no_args_is_help=True)


@settings.command("list")
def settings_list(as_json: JsonOption = False, data: DataOption = None) -> None:
    """List the settings: value, range, and where each value is from.

    Example: sillbook settings list --json
    """
    with verb(data, as_json=as_json) as session:
        table = settings_page.settings_table(session)
    if as_json:
        show_list(table)
        return
    for row in table.rows:
        why = f" ({row['reason']})" if row["own"] and row["reason"] else ""
        print(f"{row['key']}\t{row['words']}\t{row['source']}{why}")


@settings.command("set")
def settings_set(
    key: Annotated[str, typer.Argument(help="As `sillbook settings list` names it.")],
    value: Annotated[str, typer.Argument(help="In the unit that the list names.")],
    reason: ReasonOption,
    data: DataOption = None,
) -> None:
    """Set a value for everybody, with the reason.

    Example: sillbook settings set water_year 10-01 --reason "the season begins in October"
    """
    with verb(data) as session:
        form = settings_page.history(session, key).form | {"value": value, "reason": reason}
        change.set_from_form(session, key, form, None)
        session.commit()
        said = settings_page.history(session, key).line
    print(f"{said.of.label}: {said.words}")


@settings.command("default")
def settings_default(key: str, reason: ReasonOption, data: DataOption = None) -> None:
    """Go back to the built-in value of a setting, with the reason.

    Example: sillbook settings default water_year --reason "as the neighbours do"
    """
    with verb(data) as session:
        form = settings_page.history(session, key).form | {"reason": reason}
        change.back_to_default(session, key, form, None)
        session.commit()
        said = settings_page.history(session, key).line
    print(f"{said.of.label}: {said.words}, built in")
