"""The one set of tabs of a site: which page lies behind which tab, said here and nowhere else.

A page of a site is a template named in `TABS`; `page()` puts the workspace around it. To add a
page: one `Leaf`. A page without a line of its own in the second row (one reading, a form) stands
among the `within` of the leaf it belongs to.
"""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Leaf:
    """A page behind a tab: its words, address, template, and the templates that lie within it."""

    words: str
    href: str
    own: str
    within: tuple[str, ...] = ()
    office: bool = False
    bare: str = ""  # where it lies for a site without a structure


@dataclass(frozen=True)
class Tab:
    """A tab: a noun of the trade, its pages in order, and the kinds of entries behind it."""

    words: str
    leaves: tuple[Leaf, ...]
    kinds: tuple[str, ...] = ()


TABS = (
    Tab(
        "Flow",
        (
            Leaf(
                words="Chart",
                href="/structures/{structure}/record",
                own="record/show.html",
                bare="/sites/{site}/flow",
            ),
            Leaf(
                words="Table", href="/structures/{structure}/record/table", own="record/table.html"
            ),
            Leaf(words="Daily flow", href="/structures/{structure}/daily", own="days/show.html"),
            Leaf(words="Totals", href="/structures/{structure}/totals", own="days/totals.html"),
            Leaf(words="Years", href="/structures/{structure}/years", own="record/years.html"),
            Leaf(
                words="Corrections",
                href="/structures/{structure}/layers",
                own="corrections/show.html",
            ),
            Leaf(
                words="Months and approval",
                href="/structures/{structure}/months",
                own="review/months.html",
                office=True,
            ),
            Leaf(
                words="Rate again",
                href="/sites/{site}/rate-again",
                own="rerating/look.html",
                within=("rerating/done.html",),
                office=True,
            ),
        ),
    ),
    Tab(
        "Readings",
        (
            Leaf(
                words="Readings",
                href="/sites/{site}/readings",
                own="readings/index.html",
                within=("readings/show.html", "readings/correct.html"),
            ),
            Leaf(
                words="Bring in old readings",
                href="/structures/{structure}/books",
                own="books/readings.html",
                within=("books/batch.html",),
                office=True,
            ),
        ),
        kinds=("head_reading",),
    ),
    Tab(
        "Gaugings and rating",
        (
            Leaf(
                words="Check gaugings",
                href="/sites/{site}/gaugings",
                own="gaugings/index.html",
                within=("gaugings/show.html",),
            ),
            Leaf(
                words="Bring in old gaugings",
                href="/structures/{structure}/books/gaugings",
                own="books/gaugings.html",
                office=True,
            ),
            Leaf(
                words="Rating tests",
                href="/structures/{structure}/rating-tests",
                own="fits/tests.html",
            ),
            Leaf(
                words="Fits",
                href="/structures/{structure}/fits",
                own="fits/show.html",
                within=("fits/look.html",),
                office=True,
            ),
            Leaf(
                words="Rating card",
                href="/structures/{structure}/ratings/{rating}/card",
                own="fits/card.html",
            ),
            Leaf(
                words="Ratings",
                href="/structures/{structure}/ratings",
                own="ratings/index.html",
                within=("sites/rating.html",),
            ),
            Leaf(
                words="Bring in an old rating",
                href="/structures/{structure}/books/ratings",
                own="books/ratings.html",
                office=True,
            ),
        ),
        kinds=("check_gauging",),
    ),
    Tab(
        "Levels and zero",
        (
            Leaf(
                words="Level runs",
                href="/sites/{site}/levels",
                own="surveys/index.html",
                within=("surveys/run.html",),
            ),
            Leaf(
                words="Gauge zero",
                href="/structures/{structure}/gauge-zeros",
                own="surveys/zeros.html",
                within=("sites/zero.html",),
            ),
        ),
        kinds=("level_run", "benchmark"),
    ),
    Tab(
        "Structure",
        (
            Leaf(
                words="Site",
                href="/sites/{site}",
                own="sites/show.html",
                within=("sites/form.html", "sites/structure_new.html"),
            ),
            Leaf(
                words="Dimensions",
                href="/structures/{structure}",
                own="sites/dimensions.html",
                within=("sites/structure_edit.html",),
            ),
            Leaf(
                words="As built",
                href="/structures/{structure}/as-built",
                own="install/as_built.html",
            ),
            Leaf(
                words="Install stops",
                href="/structures/{structure}/install",
                own="install/stops.html",
            ),
            Leaf(
                words="Commissioning",
                href="/structures/{structure}/commissioning",
                own="install/sheet.html",
            ),
            Leaf(
                words="Plans",
                href="/sites/{site}/plans",
                own="plans/index.html",
                within=("plans/form.html", "plans/show.html"),
            ),
            Leaf(
                words="Which flume?",
                href="/sites/{site}/which-flume",
                own="plans/choosing.html",
            ),
        ),
        kinds=("plan", "install_stop", "dimension_check", "opening"),
    ),
    Tab(
        "Takes",
        (Leaf(words="Takes", href="/structures/{structure}/takes", own="takes/show.html"),),
    ),
    Tab(
        "Visits",
        (
            Leaf(
                words="Visits",
                href="/sites/{site}/visits",
                own="visits/site.html",
                within=("visits/show.html",),
            ),
        ),
        kinds=("visit",),
    ),
    Tab(
        "Files",
        (
            Leaf(
                words="Logger files and import",
                href="/sites/{site}/loggers",
                own="loggers/index.html",
                within=("loggers/look.html", "loggers/done.html", "loggers/conflicts.html"),
                office=True,
            ),
            Leaf(
                words="Take the data out",
                href="/sites/{site}/data",
                own="datasets/site.html",
                office=True,
            ),
            Leaf(words="Photos", href="/sites/{site}/photos", own="surveys/photos.html"),
            Leaf(words="Paper", href="/sites/{site}/sheets", own="sheets/index.html"),
        ),
        kinds=("photo", "logger_file"),
    ),
    Tab(
        "Changes",
        (Leaf(words="Changes", href="/sites/{site}/changes", own="review/changes.html"),),
        kinds=("withdrawal",),
    ),
)

LEAVES = {
    template: (tab, leaf)
    for tab in TABS
    for leaf in tab.leaves
    for template in (leaf.own, *leaf.within)
}
TAB_OF_KIND = {kind: tab for tab in TABS for kind in tab.kinds}
