"""The examples in the docstrings of the formulas are true."""

import doctest
import importlib
import pkgutil

import pytest

import evenpour.physics

MODULES = [module.name for module in pkgutil.iter_modules(evenpour.physics.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_come_out(name):
    assert doctest.testmod(importlib.import_module(f"evenpour.physics.{name}")).failed == 0


def test_there_are_examples_to_run():
    found = doctest.DocTestFinder().find(importlib.import_module("evenpour.physics.air"))
    assert sum(len(one.examples) for one in found) >= 4
