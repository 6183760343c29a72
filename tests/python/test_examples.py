# SPDX-License-Identifier: GPL-3.0-or-later
"""The examples in the docstrings run and say what they print; every public function and class has one."""

import doctest
import importlib
import inspect

import matplotlib
import pytest

import sievelight as sl

matplotlib.use("agg")

# What a docstring may leave to the reader: `...` in its output, and line breaks.
OPTIONS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


def submodules():
    names = [name for name in sl.__all__ if inspect.ismodule(getattr(sl, name))]
    assert len(names) > 20
    return {name: importlib.import_module(f"sievelight.{name}") for name in names}


def public_names(module):
    """What a module offers: its __all__, or else the functions and classes that it defines itself."""
    listed = getattr(module, "__all__", None)
    if listed is not None:
        return list(listed)
    return [n for n, o in vars(module).items() if n[0] != "_" and getattr(o, "__module__", "") == module.__name__]


def in_python(thing):
    """A function or class written in Python, whose docstring stands in the source; not one of the compiled core."""
    if not (inspect.isfunction(thing) or inspect.isclass(thing)):
        return False
    return getattr(thing, "__module__", "").startswith("sievelight.") and thing.__module__ != "sievelight._core"


def must_have_one():
    """Functions and classes of the top level, functions of every public module, each once, by its own name."""
    found = {}
    for name in sl.__all__:
        if in_python(thing := getattr(sl, name)):
            found[f"{thing.__module__}.{thing.__qualname__}"] = thing
    for module in submodules().values():
        for name in public_names(module):
            if inspect.isfunction(thing := getattr(module, name)) and in_python(thing):
                found[f"{thing.__module__}.{thing.__qualname__}"] = thing
    return found


FUNCTIONS = must_have_one()
MODULES = {module.__name__: module for module in submodules().values()}


def examples_of(name, thing):
    finder = doctest.DocTestFinder(recurse=False, exclude_empty=True)
    found = finder.find(thing, name, module=False, globs={})
    assert len(found) <= 1
    return found[0] if found and found[0].examples else None


TESTS = {name: test for name, thing in {**MODULES, **FUNCTIONS}.items() if (test := examples_of(name, thing))}


def test_the_walk_finds_what_is_public():
    assert len(FUNCTIONS) > 150
    for name in (
        "sievelight.analysis.fit_guinier",
        "sievelight.reduce.average.Averager",
        "sievelight.study.run.run_study",
    ):
        assert name in FUNCTIONS


def test_every_public_function_has_an_example():
    missing = sorted(set(FUNCTIONS) - set(TESTS))
    assert not missing, "give these an Examples section:\n" + "\n".join(missing)


def test_every_class_of_the_top_level_is_used_in_an_example():
    """The compiled core's docstrings are short; its classes are shown where they are made."""
    shown = "\n".join(example.source for test in TESTS.values() for example in test.examples)
    classes = [name for name in sl.__all__ if inspect.isclass(getattr(sl, name))]
    assert "Curve" in classes
    assert not [name for name in classes if name not in shown and f"sievelight.{name}" not in shown]


def test_examples_teach_and_assert():
    """Each makes its own imports and shows some output: an example that prints nothing cannot fail by its result."""
    silent = [name for name, test in TESTS.items() if not any(example.want for example in test.examples)]
    assert not silent
    assert not [name for name, test in TESTS.items() if "import" not in test.examples[0].source]


@pytest.mark.parametrize("name", TESTS)
def test_the_example_runs(name, tmp_path, monkeypatch):
    import matplotlib.pyplot as plt

    monkeypatch.chdir(tmp_path)
    said = []
    try:
        outcome = doctest.DocTestRunner(optionflags=OPTIONS, verbose=False).run(TESTS[name], out=said.append)
    finally:
        plt.close("all")
    assert outcome.failed == 0, "".join(said)
