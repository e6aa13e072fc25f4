"""Making travelers: what is not kept yet is laid out, and a print is put together. In a process of its own, or a command.

Never call these in a web worker: it would load what makes a PDF, some seconds of a core and memory that it does not give back.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from routing.languages import spoken_in
from routing.models import TravelerPrint
from shopfloor.paper_queue import Ask, only_me, write_whole
from shopfloor.travelers import kept
from shopfloor.travelers.facts import ShellFacts, read
from shopfloor.travelers.kept import AT_ONCE, Pages
from shopfloor.travelers.pages import Imprint, Mark, ask_for_texts, body_pages, print_pdf, sheaf_pages
from shopfloor.travelers.printing import ask_ahead, name_of
from shopfloor.travelers.sheet import Traveler, travelers_from
from shopfloor.travelers.texts import Texts


def work(ask: Ask) -> None:
    """Make what was asked for."""
    wanted = ask.wanted
    match wanted["do"]:
        case "sheaf":
            make(read(wanted["serials"], base_url=wanted["base_url"]), wanted["paper"])
        case "order":
            ask_ahead(wanted["order"], base_url=wanted["base_url"])
        case "print":
            make_print(TravelerPrint.objects.get(pk=wanted["print"]))
        case "preview":
            (facts,) = read([wanted["serial"]], base_url=wanted["base_url"])
            (pages,) = make([facts], wanted["paper"])
            at = parse_datetime(wanted["at"])
            assert at is not None
            write_whole(kept.print_path(ask.name), _preview(facts, pages, Imprint(wanted["paper"], at, wanted["by"])))
        case other:
            raise ValueError(f"Nobody here can make “{other}”.")


def _preview(facts: ShellFacts, pages: Pages, imprint: Imprint) -> bytes:
    with spoken_in(facts.language):
        mark = Mark(facts.head.revision, _("PREVIEW"), _("Not on record and not for the floor."))
        return print_pdf([(pages, mark)], imprint, _("Preview {serial}").format(serial=facts.head.serial))


def make(facts: Sequence[ShellFacts], paper: str) -> list[Pages]:
    """Where the travelers lie, those laid out first that are not kept. Two never make the same at the same time."""
    keyed = [(each, each.key(paper)) for each in facts]
    for start in range(0, len(keyed), AT_ONCE):
        some = keyed[start : start + AT_ONCE]
        if _missing(some):
            with only_me("shells", [each.shell.pk for each, _ in some]):
                if missing := _missing(some):
                    with spoken_in(missing[0][0].language):
                        _lay_out(missing, paper)
    found = []
    for each, key in keyed:
        pages = kept.find(each.head.serial, key)
        assert pages is not None
        kept.use(each.head.serial, key)
        found.append(pages)
    return found


def _missing(keyed: Sequence[tuple[ShellFacts, str]]) -> list[tuple[ShellFacts, str]]:
    return [(each, key) for each, key in keyed if not kept.find(each.head.serial, key)]


def _lay_out(keyed: Sequence[tuple[ShellFacts, str]], paper: str) -> None:
    travelers = travelers_from([facts for facts, _ in keyed])
    shop = keyed[0][0].shop
    texts = Texts()
    different = {traveler.body_key: traveler for traveler in travelers}.values()
    ask_for_texts(
        [traveler.head for traveler in travelers],
        [traveler.body for traveler in different if not kept.body_path(traveler.body_key, paper).exists()],
        shop=shop,
        paper=paper,
        texts=texts,
    )
    bodies = {traveler.body_key: _body(traveler, paper, texts) for traveler in different}
    sheets = [(traveler.head, bodies[traveler.body_key]) for traveler in travelers]
    pages, counts = sheaf_pages(sheets, shop=shop, paper=paper, texts=texts)
    kept.keep(pages, [(facts.head.serial, key, count) for (facts, key), count in zip(keyed, counts, strict=True)])


def _body(traveler: Traveler, paper: str, texts: Texts) -> bytes:
    path = kept.body_path(traveler.body_key, paper)
    with only_me("bodies", [int(traveler.body_key[:8], 16)]):
        if not path.exists():
            write_whole(path, body_pages(traveler.body, paper, texts))
    path.touch()
    return path.read_bytes()


def make_print(asked: TravelerPrint) -> bytes:
    """The file of a print. The same print again is the same file."""
    path = kept.print_path(name_of(asked))
    if not path.exists():
        facts = read(asked.copies, base_url=asked.base_url)
        pages = make(facts, asked.paper)
        imprint = Imprint(asked.paper, asked.printed_at, asked.printed_by)
        with spoken_in(facts[0].language):
            marks = [_mark(each, asked.copies[each.head.serial]) for each in facts]
            pdf = print_pdf(list(zip(pages, marks, strict=True)), imprint, _title(facts))
        write_whole(path, pdf)
    return path.read_bytes()


def _mark(facts: ShellFacts, copy: int) -> Mark:
    if copy == 1:
        return Mark(facts.head.revision)
    return Mark(facts.head.revision, _("COPY {copy}").format(copy=copy), _("Take older paper off this shell."))


def _title(facts: Sequence[ShellFacts]) -> str:
    serials = ", ".join(each.head.serial for each in facts[:5]) + (" …" if len(facts) > 5 else "")
    return ngettext("Traveler {serials}", "Travelers {serials}", len(facts)).format(serials=serials)
