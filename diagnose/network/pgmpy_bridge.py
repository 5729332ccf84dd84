"""The network in pgmpy: check, exchange files, and a second opinion by its own inference.

The only module that imports pgmpy, and only inside functions: that import costs about two seconds.
"""

from __future__ import annotations

import gzip
import re
import warnings
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from math import log
from pathlib import Path
from typing import Any

import numpy as np

from diagnose.errors import CallError
from diagnose.network.divorce import divorce, renumbered
from diagnose.network.network import Array, Network, Table, full_table
from diagnose.network.observed import ImpossibleEvidence

MAX_PARENTS = 8  # of a plain table, which has 2 to the power of them
MAX_ENTRIES = 4096  # of a plain table, where its parents have more than two states


@contextmanager
def _quiet() -> Iterator[None]:
    """At import pgmpy 1.1 warns that a module of its own is to move in 1.3; nothing here uses that module."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=r"`pgmpy\.", category=FutureWarning)
        yield


# --- models -----------------------------------------------------------------------------------------


def to_pgmpy(network: Network, max_parents: int = MAX_PARENTS) -> Any:
    """A pgmpy DiscreteBayesianNetwork of the same distribution, variables under their own names.

    Wide noisy-MAX families are split first (`divorce`), so the model can hold auxiliary variables.
    """
    return _model(divorce(network, max_parents, MAX_ENTRIES))


def from_pgmpy(model: Any) -> Network:
    """A Network of full tables from a pgmpy DiscreteBayesianNetwork.

    Every column is divided by its sum: published networks are often rounded so that columns do not sum to
    one, and engines that prune differently then disagree. Variables come in an order with parents first.
    """
    names = _parents_first(model)
    number = {name: variable for variable, name in enumerate(names)}
    cpds = [model.get_cpds(name) for name in names]
    states = tuple(tuple(map(str, cpd.state_names[cpd.variable])) for cpd in cpds)
    return Network(tuple(map(str, names)), states, tuple(_table(cpd, number) for cpd in cpds))


def check_model(network: Network) -> bool:
    """The check by pgmpy itself: a CPD for every variable, cards that fit, columns that sum to one.

    Raises ValueError with pgmpy's words if it finds fault.
    """
    return bool(to_pgmpy(network).check_model())


def _model(network: Network) -> Any:
    with _quiet():
        from pgmpy.models import DiscreteBayesianNetwork
    model = DiscreteBayesianNetwork()
    model.add_nodes_from(network.names)
    for variable, name in enumerate(network.names):
        model.add_edges_from((network.names[parent], name) for parent in network.parents(variable))
    model.add_cpds(*(_cpd(network, variable) for variable in range(len(network.names))))
    return model


def _cpd(network: Network, variable: int) -> Any:
    with _quiet():
        from pgmpy.factors.discrete import TabularCPD
    card = network.cards[variable]
    parents = network.parents(variable)
    return TabularCPD(
        network.names[variable],
        card,
        full_table(network.families[variable]).reshape(-1, card).T,
        evidence=[network.names[parent] for parent in parents],
        evidence_card=[network.cards[parent] for parent in parents],
        state_names={network.names[v]: list(network.states[v]) for v in (variable, *parents)},
    )


def _parents_first(model: Any) -> list[Any]:
    """The order of pgmpy where it already has parents first; else moved as little as needed."""
    placed: dict[Any, None] = {}

    def place(name: Any) -> None:
        for parent in model.get_cpds(name).variables[1:]:
            if parent not in placed:
                place(parent)
        placed.setdefault(name)

    for name in model.nodes():
        place(name)
    return list(placed)


def _table(cpd: Any, number: Mapping[Any, int]) -> Table:
    """A CPD of pgmpy has the child on axis 0; a Table has it last."""
    values = np.moveaxis(np.asarray(cpd.values, dtype=np.float64), 0, -1)
    return Table(
        tuple(number[parent] for parent in cpd.variables[1:]), values / values.sum(axis=-1, keepdims=True)
    )


# --- exchange files -----------------------------------------------------------------------------------


def bif_names(names: Iterable[str]) -> tuple[str, ...]:
    """Names that every BIF reader takes: ASCII letters, digits and underscores; `plain_name` undoes them.

    `-` becomes `_`, anything else unusual `_x<hex code>_`. Some readers ignore case, so where two names
    differ in case alone all capitals are coded too.
    """
    names = tuple(names)
    clash = len({name.lower() for name in names}) < len(set(names))
    coded = r"[^a-z0-9-]" if clash else r"[^A-Za-z0-9-]"
    return tuple(_bif_name(name, coded) for name in names)


def _bif_name(name: str, coded: str) -> str:
    def code(match: re.Match[str]) -> str:
        return f"_x{ord(match[0]):x}_"

    text = re.sub(rf"{coded}|-(?=x)|^[0-9]", code, name)
    return text.replace("-", "_") or "_x_"


def plain_name(name: str) -> str:
    """The name that `bif_names` coded."""
    return re.sub(r"_x([0-9a-f]*)_|_", _decode, name)


def _decode(match: re.Match[str]) -> str:
    if match[1] is None:
        return "-"
    return chr(int(match[1], 16)) if match[1] else ""


def bif_text(network: Network) -> str:
    """The network as BIF (Hulten and Domingos' interchange format), every digit kept."""
    with _quiet():
        from pgmpy.readwrite import BIFWriter
    return str(BIFWriter(_exchange_model(network)))


def xmlbif_text(network: Network) -> str:
    """The network as XMLBIF 0.3, every digit kept."""
    with _quiet():
        from pgmpy.readwrite import XMLBIFWriter
    return str(XMLBIFWriter(_exchange_model(network)))


def write_file(network: Network, path: Path) -> None:
    """Writes BIF or XMLBIF, by the ending of the name: .bif, .bif.gz, .xmlbif, .bifxml or .xml."""
    text = bif_text(network) if _is_bif(path) else xmlbif_text(network)
    data = text.encode()
    path.write_bytes(gzip.compress(data, mtime=0) if path.suffix == ".gz" else data)


def read_file(path: Path) -> Network:
    """Reads a BIF or XMLBIF file, chosen as in `write_file`. Columns are normalised, names kept as read."""
    data = path.read_bytes()
    text = (gzip.decompress(data) if path.suffix == ".gz" else data).decode()
    return read_bif(text) if _is_bif(path) else read_xmlbif(text)


def read_bif(text: str) -> Network:
    """A Network from BIF text."""
    with _quiet():
        from pgmpy.readwrite import BIFReader

        return from_pgmpy(BIFReader(string=text).get_model())


def read_xmlbif(text: str) -> Network:
    """A Network from XMLBIF text."""
    with _quiet():
        from pgmpy.readwrite import XMLBIFReader

        # The reader hands the text on as UTF-8 bytes, whatever the declaration says.
        return from_pgmpy(XMLBIFReader(string=text).get_model())


def with_plain_names(network: Network) -> Network:
    """A network read from a file that this program wrote, under its first names and states."""
    states = tuple(tuple(map(plain_name, own)) for own in network.states)
    return Network(tuple(map(plain_name, network.names)), states, network.families)


def _exchange_model(network: Network) -> Any:
    split = divorce(network, MAX_PARENTS, MAX_ENTRIES)
    return _model(Network(bif_names(split.names), tuple(map(bif_names, split.states)), split.families))


def _is_bif(path: Path) -> bool:
    ending = "".join(path.suffixes[-2:]) if path.suffix == ".gz" else path.suffix
    if ending in (".bif", ".bif.gz"):
        return True
    if ending in (".xmlbif", ".bifxml", ".xml"):
        return False
    raise CallError(f"{path.name}: a network file ends in .bif, .bif.gz, .xmlbif, .bifxml or .xml")


# --- second opinion -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class SecondOpinion:
    """What pgmpy's variable elimination says: posteriors of the targets, natural log P(evidence)."""

    marginals: Mapping[int, Array]
    log_probability: float


def second_opinion(network: Network, evidence: Mapping[int, Array], targets: Iterable[int]) -> SecondOpinion:
    """Posterior of each target given evidence (likelihood vectors), computed by pgmpy alone.

    One-hot vectors are given to pgmpy as plain evidence, all others as virtual evidence (Pearl 1988).
    P(evidence) is the product of P(next observation | those before). Raises ImpossibleEvidence with the
    names of the observations up to the first that cannot be: pgmpy itself would answer nan.
    """
    targets = tuple(targets)
    for likelihood in evidence.values():
        if not np.any(likelihood):
            raise ImpossibleEvidence(tuple(network.names[variable] for variable in evidence))
    part, number = _ancestral(network, (*targets, *evidence))
    model = to_pgmpy(part)
    told = {
        number[variable]: np.asarray(likelihood, dtype=np.float64)
        for variable, likelihood in evidence.items()
    }
    log_probability = _log_probability(model, part, told)
    marginals = {target: _query(model, part, told, number[target]) for target in targets}
    return SecondOpinion(marginals, log_probability)


def _log_probability(model: Any, network: Network, evidence: Mapping[int, Array]) -> float:
    total = 0.0
    before: dict[int, Array] = {}
    for variable, likelihood in evidence.items():
        factor = float(_query(model, network, before, variable) @ likelihood)
        before[variable] = likelihood
        if factor <= 0.0:
            raise ImpossibleEvidence(tuple(network.names[seen] for seen in before))
        total += log(factor)
    return total


def _query(model: Any, network: Network, evidence: Mapping[int, Array], target: int) -> Array:
    """One posterior by variable elimination. A fresh engine each time: virtual evidence alters its model."""
    with _quiet():
        from pgmpy.factors.discrete import DiscreteFactor
        from pgmpy.inference import VariableElimination
    names, states = network.names, network.states
    hard = {v: int(np.argmax(row)) for v, row in evidence.items() if np.count_nonzero(row) == 1}
    if target in hard:
        known: Array = np.eye(network.cards[target])[hard[target]]
        return known
    virtual = [
        DiscreteFactor([names[v]], [len(row)], row / row.max(), state_names={names[v]: list(states[v])})
        for v, row in evidence.items()
        if v not in hard
    ]
    answer = VariableElimination(model).query(
        [names[target]],
        evidence={names[v]: states[v][state] for v, state in hard.items()},
        virtual_evidence=virtual or None,
        show_progress=False,
    )
    return np.asarray(answer.values, dtype=np.float64)


def _ancestral(network: Network, variables: Iterable[int]) -> tuple[Network, dict[int, int]]:
    """The part of the network that can matter, and the new number of each variable kept."""
    kept = sorted(network.ancestors(variables))
    number = {variable: place for place, variable in enumerate(kept)}
    families = tuple(renumbered(network.families[variable], number) for variable in kept)
    names = tuple(network.names[variable] for variable in kept)
    return Network(names, tuple(network.states[variable] for variable in kept), families), number
