"""Ctrl+C stops in good order, and afterwards means what it meant before."""

from __future__ import annotations

import os
import signal
import threading

import pytest

from benchapp.cli.interrupt import on_interrupt


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_does_the_act_and_breaks_nothing_off(number):
    heard = []
    before = signal.getsignal(number)
    with on_interrupt(lambda: heard.append(number)):
        os.kill(os.getpid(), number)
        os.kill(os.getpid(), number)
    assert heard == [number, number]
    assert signal.getsignal(number) is before


def test_the_old_meaning_comes_back_after_an_error():
    before = signal.getsignal(signal.SIGINT)
    with pytest.raises(ValueError, match="broken"), on_interrupt(lambda: None):
        raise ValueError("broken")
    assert signal.getsignal(signal.SIGINT) is before


def test_elsewhere_than_on_the_main_thread_nothing_is_changed():
    seen = []

    def act():
        with on_interrupt(lambda: None):
            seen.append(signal.getsignal(signal.SIGINT))

    thread = threading.Thread(target=act)
    thread.start()
    thread.join()
    assert seen == [signal.getsignal(signal.SIGINT)]
