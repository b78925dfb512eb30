from __future__ import annotations

import subprocess
import sys
import threading
import time

import pytest
import pyvisa
from pyvisa.constants import InterfaceType, StatusCode

from benchapp.bench.server import BenchServer
from benchapp.errors import CancelledError, LinkError
from benchapp.instruments import Link, LinkSettings, visa
from benchapp.instruments.link import never

FAST = LinkSettings(timeout=0.4, open_timeout=0.4)


class Talker:
    def busy(self, _line):
        return 0.0

    def execute(self, line):
        return b"A,B,C,D" if line == "*IDN?" else None


def test_visa_is_not_imported_before_a_link_is_opened():
    code = (
        "import sys, benchapp.instruments.link, benchapp.instruments\n"
        "sys.exit(any(name.startswith('pyvisa') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_refused_port_is_said_at_once_though_the_library_calls_it_a_success():
    with BenchServer(Talker()) as server:
        address = server.address
    start = time.monotonic()
    with pytest.raises(LinkError, match=r"must listen at this address.*port") as error:
        Link(address, FAST).open()
    assert error.value.facts["address"] == address
    assert "refused" in error.value.__cause__.facts["detail"]
    assert time.monotonic() - start < 0.4


@pytest.mark.parametrize("address", ["hello", "", "TCPIP::127.0.0.1::SOCKET"])
def test_an_address_that_is_none_is_said_with_examples(address):
    with pytest.raises(LinkError, match=r"must be a VISA address.*TCPIP::192.0.2.7::5025::SOCKET"):
        Link(address, FAST).open()


def test_an_unknown_host_is_said_without_a_leaked_socket(monkeypatch):
    def unknown(*_):
        raise OSError(-2, "Name or service not known")

    monkeypatch.setattr(visa.socket, "getaddrinfo", unknown)
    with pytest.raises(LinkError, match="host name must be known in this network"):
        Link("TCPIP::no-such-host::5025::SOCKET", FAST).open()


def test_a_library_that_lacks_a_part_says_which(monkeypatch):
    def lacking(*_, **__):
        raise ValueError("Please install PySomething to use this resource type.\nNo module")

    monkeypatch.setattr(pyvisa.ResourceManager, "open_resource", lacking)
    with pytest.raises(LinkError, match=r"got: Please install PySomething to use this resource"):
        Link("USB0::1::2::3::INSTR", FAST).open()


@pytest.mark.parametrize(
    ("cause", "meaning"),
    [
        (ConnectionRefusedError(111, "Connection refused"), "must listen"),
        (Exception("could not connect: [Errno -2] Name or service not known"), "host name"),
        (OSError(113, "No route to host"), "must be reachable"),
        (PermissionError(13, "Permission denied"), "must be allowed"),
        (OSError("USBError: [Errno 13] Access denied (insufficient permissions)"), "be allowed"),
        (ValueError("Could not locate a VISA implementation"), "kind of address"),
        (ValueError("Wrapper not found: No package named x"), "library must be installed"),
        (OSError("/x.so: cannot open shared object file: No such file"), "must be installed"),
        (pyvisa.errors.VisaIOError(StatusCode.error_invalid_resource_name), "a VISA address"),
        (pyvisa.errors.VisaIOError(StatusCode.error_resource_not_found), "device must be there"),
        (OSError("could not open port /dev/ttyUSB9: no such file"), "device must be there"),
        (pyvisa.errors.VisaIOError(StatusCode.error_resource_busy), "device must be free"),
        (ConnectionResetError(104, "Connection reset by peer"), "must stay open"),
        (BrokenPipeError(32, "Broken pipe"), "must stay open"),
        (pyvisa.errors.InvalidSession(), "must stay open"),
        (pyvisa.errors.VisaIOError(StatusCode.error_connection_lost), "must stay open"),
        (pyvisa.errors.VisaIOError(StatusCode.error_timeout), "in time"),
        (Exception("could not connect: -1073807339"), "in time"),
        (TypeError("something odd"), r"must be able to do this \(got TypeError: something odd\)"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, Exception) else value[:12],
)
def test_what_leaks_from_libraries_becomes_a_sentence_with_what_to_do(cause, meaning):
    told = visa.explain(cause)
    with pytest.raises(LinkError, match=meaning):
        raise told
    assert told.hint.endswith(".")
    assert str(cause) in told.facts["detail"]


class Slow:
    """A resource manager whose opening hangs."""

    def __init__(self, seconds):
        self.seconds = seconds
        self.opened = threading.Event()
        self.closed = threading.Event()

    def __call__(self, _backend):
        return self

    def open_resource(self, *_, **__):
        time.sleep(self.seconds)
        self.opened.set()
        return self

    interface_type = InterfaceType.tcpip
    resource_class = "INSTR"

    def close(self):
        self.closed.set()


def test_opening_that_hangs_ends_at_its_deadline_and_is_closed_when_it_opens_after_all(
    monkeypatch,
):
    slow = Slow(1.0)
    monkeypatch.setattr(pyvisa, "ResourceManager", slow)
    start = time.monotonic()
    with pytest.raises(LinkError, match="answer the connection in time"):
        visa.dial("ALIAS", FAST, never)
    assert time.monotonic() - start < 0.4 + 0.3
    assert slow.closed.wait(2.0)


def test_opening_that_hangs_can_be_stopped_within_200_ms(monkeypatch):
    slow = Slow(0.6)
    monkeypatch.setattr(pyvisa, "ResourceManager", slow)
    start = time.monotonic()
    with pytest.raises(CancelledError, match="connection was stopped"):
        visa.dial("ALIAS", LinkSettings(open_timeout=30.0), lambda: True)
    assert time.monotonic() - start < 0.2
    assert slow.closed.wait(2.0)


def test_addresses_are_listed_only_by_the_library_asked_for(monkeypatch):
    class Manager:
        def __init__(self, backend):
            self.backend = backend

        def list_resources(self):
            return [f"found by {self.backend}"]

    monkeypatch.setattr(pyvisa, "ResourceManager", Manager)
    assert visa.discover("@here") == ("found by @here",)


def test_a_failing_search_for_addresses_is_explained(monkeypatch):
    def failing(_backend):
        raise OSError("Could not locate a VISA implementation")

    monkeypatch.setattr(pyvisa, "ResourceManager", failing)
    with pytest.raises(LinkError, match="VISA library must be able"):
        visa.discover()


# --- transports over libraries that are not here, by stand-ins ----------------------------


class Library:
    """Plays reads: bytes (an answer's end), (bytes, status), or an error to raise."""

    def __init__(self, *plays):
        self.plays = list(plays)
        self.asked = []

    def ignore_warning(self, *_):
        return threading.Lock()

    def read(self, _session, count):
        self.asked.append(count)
        if not self.plays:
            raise pyvisa.errors.VisaIOError(StatusCode.error_timeout)
        play = self.plays.pop(0)
        if isinstance(play, Exception):
            raise play
        content, status = play if isinstance(play, tuple) else (play, StatusCode.success)
        if len(content) > count:
            self.plays.insert(0, (content[count:], status))
            return content[:count], StatusCode.success_max_count_read
        return content, status


class Resource:
    session = 1
    timeout = 0

    def __init__(self, kind, library, *, resource_class="INSTR", status=None):
        self.interface_type = kind
        self.resource_class = resource_class
        self.visalib = library
        self.sent = []
        self.attributes = {}
        self.status = status
        self.closed = False

    def open_resource(self, *_, **__):
        return self

    def set_visa_attribute(self, name, value):
        self.attributes[name] = value

    def write_raw(self, content):
        self.sent.append(content)

    def read_stb(self):
        """Show an answer once a question was sent, or what the test wants."""
        return self.status() if self.status else 0x10 * bool(self.sent and self.visalib.plays)

    @property
    def bytes_in_buffer(self):
        return sum(len(play) for play in self.visalib.plays)

    def close(self):
        self.closed = True


@pytest.fixture
def through(monkeypatch):
    """Open a link through a stand-in for a VISA resource."""

    def open_link(resource, **settings):
        monkeypatch.setattr(pyvisa, "ResourceManager", lambda _backend: resource)
        chosen = {"identify": "", "timeout": 0.3, "open_timeout": 0.3} | settings
        link = Link("USB0::1::2::3::INSTR", LinkSettings(**chosen))
        link.open()
        return link

    return open_link


def test_a_message_is_read_only_when_the_status_byte_shows_an_answer(through):
    polls = []
    library = Library(b"1.5\n")

    def fifth():
        polls.append(len(library.asked))
        return 0x10 * (len(polls) > 5 and bool(library.plays))

    resource = Resource(InterfaceType.usb, library, status=fifth)
    assert through(resource).ask("A?") == "1.5"
    assert polls[:6] == [0] * 6
    assert resource.sent == [b"A?\n"]


def test_a_status_byte_that_never_shows_an_answer_ends_at_the_deadline(through):
    library = Library(b"1.5\n")
    link = through(Resource(InterfaceType.gpib, library, status=lambda: 0))
    with pytest.raises(LinkError, match=r"within 0.3 s"):
        link.ask("A?")
    assert library.asked == []


def test_the_end_of_a_message_stands_for_its_line_end(through):
    link = through(Resource(InterfaceType.usb, Library(b"1.5")))
    assert link.ask("A?") == "1.5"


@pytest.mark.parametrize(
    "refusal",
    [pyvisa.errors.VisaIOError(StatusCode.error_nonsupported_operation), NotImplementedError()],
)
def test_without_a_status_byte_a_message_is_waited_for(through, refusal):
    def no_status():
        raise refusal

    link = through(Resource(InterfaceType.usb, Library(b"1.5\n"), status=no_status))
    assert link.ask("A?") == "1.5"


def test_a_status_byte_that_fails_otherwise_is_an_error(through):
    def broken():
        raise pyvisa.errors.VisaIOError(StatusCode.error_connection_lost)

    link = through(Resource(InterfaceType.usb, Library(), status=broken))
    with pytest.raises(LinkError, match="must stay open"):
        link.ask("A?")


def test_a_serial_line_reads_what_has_arrived_and_starts_clean(through):
    resource = Resource(InterfaceType.asrl, Library(b"old rest"))
    link = through(resource, baud_rate=19200)
    assert resource.attributes[pyvisa.constants.ResourceAttribute.asrl_baud_rate] == 19200
    resource.write_raw = lambda _: resource.visalib.plays.extend([b"1.", b"5\n"])
    assert link.ask("A?") == "1.5"


def test_a_silent_serial_line_ends_at_the_deadline(through):
    link = through(Resource(InterfaceType.asrl, Library()))
    with pytest.raises(LinkError, match=r"within 0.3 s \(got nothing\)"):
        link.ask("A?")


def test_another_librarys_socket_waits_for_the_first_byte_and_takes_the_rest(through):
    resource = Resource(InterfaceType.tcpip, Library(), resource_class="SOCKET")
    link = through(resource)
    end = StatusCode.success_termination_character_read
    resource.write_raw = lambda _: resource.visalib.plays.append((b"1.5\n", end))
    assert link.ask("A?") == "1.5"
    resource.write_raw = lambda _: resource.visalib.plays.append((b"#15a\nbcd\n", end))
    assert link.ask_block("B?") == b"a\nbcd"


def test_another_librarys_socket_that_stops_in_mid_answer_is_an_error(through):
    resource = Resource(InterfaceType.tcpip, Library(), resource_class="SOCKET")
    link = through(resource)
    timeout = pyvisa.errors.VisaIOError(StatusCode.error_timeout)
    resource.write_raw = lambda _: resource.visalib.plays.extend([b"1", timeout, b"5\n"])
    with pytest.raises(LinkError, match="in time"):
        link.ask("A?")
    assert resource.closed


def test_a_read_that_fails_is_explained(through):
    lost = pyvisa.errors.VisaIOError(StatusCode.error_connection_lost)
    resource = Resource(InterfaceType.usb, Library(lost), status=lambda: 0x10)
    link = through(resource)
    link._transport.waiting = lambda: False
    with pytest.raises(LinkError, match=r"after 'A\?' the connection must stay open"):
        link.ask("A?")


def test_an_unasked_byte_on_another_librarys_socket_stops_the_next_question(through):
    resource = Resource(InterfaceType.tcpip, Library(b"x"), resource_class="SOCKET")
    link = through(resource)
    with pytest.raises(LinkError, match="no answer may wait"):
        link.tell("SET")


def test_a_write_that_fails_is_explained(through):
    resource = Resource(InterfaceType.usb, Library(), status=lambda: 0)
    link = through(resource)

    def broken(_content):
        raise BrokenPipeError(32, "Broken pipe")

    resource.write_raw = broken
    with pytest.raises(LinkError, match="after 'SET' the connection must stay open"):
        link.tell("SET")
    assert resource.closed
