"""Compile each kernel to machine code once, where it ends up, instead of in each of its callers.

numba optimises every function together with all that it calls and makes machine code of it, before
its caller does the same once more: a leaf under fifteen callers fifteen times. Inner kernels are
never called from Python. Here they are only lowered; an entry links everything below it and is
optimised and made machine code as a whole. That is half of the time of compiling.

Numba documents pipelines of one's own (``pipeline_class``); the library behind them, whose
``finalize`` is changed here, is its own affair. Where a release has it otherwise, :func:`pipeline`
gives nothing and numba's way is taken: the same results, later (a test tries both ways).
"""

from __future__ import annotations

from functools import cache
from typing import Any


@cache
def pipeline() -> Any:
    """The pipeline for ``numba.njit(pipeline_class=...)``; None where numba has no place for it."""
    try:
        return _pipeline(_library())
    except (ImportError, AttributeError):
        return None


def _library() -> Any:
    """What a kernel is lowered to: numba's own, but for when machine code is made of it."""
    from numba.core.codegen import JITCodeLibrary

    for name in ("_finalize_dynamic_globals", "_get_module_for_linking", "_ensure_finalized"):
        getattr(JITCodeLibrary, name)

    class Library(JITCodeLibrary):  # type: ignore[misc]
        """What one kernel is lowered to."""

        is_entry = False

        def finalize(self) -> None:
            """An entry: everything below it, as numba does it. Else only that it is complete."""
            if self.is_entry:
                self._linking_libraries = _below(self)
                self._own = {f.name for f in self._final_module.functions}
                super().finalize()
            else:
                self._finalize_dynamic_globals()
                self._finalized = True

        def _optimize_final_module(self) -> None:
            """Nothing outside asks for what is below: it may lose arguments that it does not use.

            Scratch arrays are handed down by the dozen; with copies of all of them for every call a
            hold took 2.0 ms instead of 1.2.
            """
            for function in self._final_module.functions:
                if not function.is_declaration and function.name not in self._own:
                    function.linkage = "internal"
            super()._optimize_final_module()

        @property
        def codegen(self) -> Any:
            """What makes machine code; without an environment where there is none."""
            return self._codegen if self.is_entry else _NoEnvironment(self._codegen)

        def get_pointer_to_function(self, name: str) -> int:
            """None for an inner kernel: it has no machine code of its own."""
            return super().get_pointer_to_function(name) if self.is_entry else 0

    return Library


def _pipeline(library: Any) -> Any:
    """numba's pipeline with that library."""
    from numba.core.compiler import CompilerBase, DefaultPassBuilder
    from numba.core.compiler_machinery import FunctionPass, register_pass
    from numba.core.untyped_passes import IRProcessing

    @register_pass(mutates_CFG=False, analysis_only=False)
    class OwnLibrary(FunctionPass):  # type: ignore[misc]
        """Makes the library that the lowering writes to."""

        _name = "n2osim_library"

        def __init__(self) -> None:
            super().__init__()

        def run_pass(self, state: Any) -> bool:
            state.library = library(state.targetctx.codegen(), state.func_id.func_qualname)
            state.library.is_entry = not state.flags.no_cpython_wrapper
            state.library.enable_object_caching()
            return True

    class Pipeline(CompilerBase):  # type: ignore[misc]
        """The usual one, with that library."""

        def define_pipelines(self) -> list[Any]:
            passes = DefaultPassBuilder.define_nopython_pipeline(self.state)
            passes.add_pass_after(OwnLibrary, IRProcessing)
            passes.finalize()
            return [passes]

    return Pipeline


class _NoEnvironment:
    """Stands for numba's code generator where a function is not in it.

    The environment holds objects for what a function says in Python. A kernel that comes from disk
    has none for what it calls either: our kernels neither raise nor print.
    """

    def __init__(self, codegen: Any) -> None:
        self._codegen = codegen

    def __getattr__(self, name: str) -> Any:
        return getattr(self._codegen, name)

    def set_env(self, name: str, env: object) -> None:
        """Nothing: nobody asks for it."""


def _below(library: Any) -> list[Any]:
    """Every library that it links, directly or through others, each once."""
    found: dict[int, Any] = {}
    waiting = list(library._linking_libraries)
    while waiting:
        one = waiting.pop()
        if id(one) not in found:
            found[id(one)] = one
            if not getattr(one, "is_entry", True):  # the others hold already what they link
                waiting.extend(one._linking_libraries)
    return list(found.values())
