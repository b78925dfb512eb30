"""Colours and type of the window: light, dark, or as the desktop has it.

Hues come from the set of Okabe and Ito (*Color Universal Design*, 2008), darkened or lightened
for text until the contrast with every background they stand on reaches 4.5 : 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from string import Template

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont, QPalette
from PySide6.QtWidgets import QApplication, QStyleFactory

__all__ = [
    "DARK",
    "LIGHT",
    "TEXT_PAIRS",
    "THEMES",
    "Theme",
    "apply",
    "chosen",
    "contrast",
    "current",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """One set of colours, named by what they are for.

    ``paper`` lies behind everything, ``card`` under the work, ``raised`` under buttons, ``notice``
    under cautions; ``ink`` and ``muted`` are for text, ``line`` parts areas, ``edge`` surrounds
    what can be pressed. ``fit`` is the fitted curve and the accent, ``band`` an allowed range,
    ``good``, ``doubt`` and ``stop`` the three kinds of result.
    """

    name: str
    paper: str
    card: str
    raised: str
    notice: str
    ink: str
    muted: str
    line: str
    edge: str
    fit: str
    on_fit: str
    chosen: str
    band: str
    band_alpha: int
    good: str
    doubt: str
    stop: str

    def color(self, name: str, alpha: int = 255) -> QColor:
        """Give the colour called ``name`` with an opacity of 0 to 255."""
        color = QColor(getattr(self, name))
        color.setAlpha(alpha)
        return color

    @property
    def band_fill(self) -> QColor:
        """Fill of an allowed range."""
        return self.color("band", self.band_alpha)


LIGHT = Theme(
    name="light",
    paper="#F4F3EF",
    card="#FFFFFF",
    raised="#FFFFFF",
    notice="#E6EEF6",
    ink="#1B1E23",
    muted="#5B626B",
    line="#DEDCD5",
    edge="#81868D",
    fit="#0072B2",
    on_fit="#FFFFFF",
    chosen="#D6E8F4",
    band="#009E73",
    band_alpha=52,
    good="#00684C",
    doubt="#A04F00",
    stop="#B3261E",
)
DARK = Theme(
    name="dark",
    paper="#16191D",
    card="#1F2328",
    raised="#2A2F36",
    notice="#22313B",
    ink="#ECEDEF",
    muted="#A6ADB6",
    line="#363B42",
    edge="#737B85",
    fit="#56B4E9",
    on_fit="#0D1B26",
    chosen="#253A49",
    band="#2FBF95",
    band_alpha=64,
    good="#4FD1A5",
    doubt="#F2A93B",
    stop="#FF8A70",
)
THEMES = {theme.name: theme for theme in (LIGHT, DARK)}

# Every colour of text with every background it is set on.
TEXT_PAIRS = (
    *(
        (text, ground)
        for text in ("ink", "muted", "good", "doubt", "stop")
        for ground in ("paper", "card", "raised", "notice", "chosen")
    ),
    ("on_fit", "fit"),
)

_SHEET = Template("""
QMainWindow, QDialog { background: $paper; }
QToolTip { background: $raised; color: $ink; border: 1px solid $edge; padding: 4px; }
QLabel { background: transparent; }
QLabel[role="muted"] { color: $muted; }
QLabel[role="heading"] { font-weight: 600; }
QLabel[role="title"] { font-size: 18pt; font-weight: 600; }
QLabel[role="good"] { color: $good; font-weight: 600; }
QLabel[role="doubt"] { color: $doubt; font-weight: 600; }
QLabel[role="stop"] { color: $stop; font-weight: 600; }
QLabel:focus { border: 1px solid $fit; border-radius: 3px; }
#page, #page > QWidget#qt_scrollarea_viewport, QScrollArea, #sheet { background: $card; }
#strip { background: $paper; border-top: 1px solid $line; }
#side { background: $card; border-left: 1px solid $line; }
#notice { background: $notice; }
#message, #views { background: $card; border-bottom: 1px solid $line; }
#box { border: 1px solid $line; border-radius: 8px; }
QPushButton, QToolButton, QComboBox, QLineEdit {
    background: $raised; color: $ink; border: 1px solid $edge; border-radius: 5px;
    padding: 4px 10px; min-height: 1.25em; }
QPushButton:hover, QToolButton:hover, QComboBox:hover { border-color: $fit; }
QPushButton:pressed, QToolButton:pressed { background: $chosen; }
QPushButton:focus, QToolButton:focus, QComboBox:focus, QLineEdit:focus {
    border: 2px solid $fit; padding: 3px 9px; }
QPushButton:disabled, QToolButton:disabled, QComboBox:disabled {
    color: $muted; border-color: $line; }
QPushButton:checked, QToolButton:checked { background: $chosen; border-color: $fit; }
QPushButton[role="main"] {
    background: $fit; color: $on_fit; border-color: $fit; font-weight: 600; }
QPushButton[role="main"]:focus { border-color: $ink; }
QPushButton[role="main"]:disabled {
    background: $raised; color: $muted; border-color: $line; }
QCheckBox::indicator { width: 14px; height: 14px; border: 1px solid $edge; border-radius: 3px;
    background: $raised; }
QCheckBox::indicator:checked { background: $fit; border-color: $fit; }
QCheckBox:focus { border: 1px solid $fit; border-radius: 3px; }
QToolButton[role="plain"] {
    background: transparent; border-color: transparent; padding-left: 0; }
QToolButton[role="plain"]:hover, QToolButton[role="plain"]:focus { border-color: $fit; }
QToolButton::menu-indicator { image: none; }
QLineEdit { placeholder-text-color: $muted; }
QLineEdit[wrong="true"] { border-color: $stop; }
QAbstractItemView { background: $raised; color: $ink; border: 1px solid $line;
    selection-background-color: $chosen; selection-color: $ink; outline: 0; }
QMenu { background: $raised; color: $ink; border: 1px solid $edge; padding: 4px; }
QMenu::item { padding: 5px 24px 5px 24px; }
QMenu::item:selected { background: $chosen; }
QMenu::separator { height: 1px; background: $line; margin: 4px 8px; }
QScrollArea { border: 0; }
#rule { background: $line; border: 0; }
QComboBox::drop-down { border: 0; width: 20px; }
QComboBox::down-arrow { image: none; }
QScrollBar { background: transparent; border: 0; margin: 0; }
QScrollBar:vertical { width: 11px; }
QScrollBar:horizontal { height: 11px; }
QScrollBar::handle { background: $edge; border-radius: 4px; margin: 2px; }
QScrollBar::handle:vertical { min-height: 30px; }
QScrollBar::handle:horizontal { min-width: 30px; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
QProgressBar { background: $line; border: 0; border-radius: 4px; }
QProgressBar::chunk { background: $fit; border-radius: 4px; }
""")


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two opaque colours, 1 to 21.

    Source: Web Content Accessibility Guidelines 2.1, definitions of relative luminance and
    contrast ratio.
    """
    bright, dark = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def _luminance(color: str) -> float:
    parts = (int(color[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (
        part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def chosen(choice: str) -> Theme:
    """Give the theme for the choice ``light``, ``dark`` or ``system``."""
    if choice in THEMES:
        return THEMES[choice]
    dark = QApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark
    return DARK if dark else LIGHT


def current() -> Theme:
    """Give the theme that the application wears now."""
    return THEMES[QApplication.instance().property("theme") or "light"]


def _palette(theme: Theme) -> QPalette:
    role = QPalette.ColorRole
    colours = {
        role.Window: "paper",
        role.WindowText: "ink",
        role.Base: "card",
        role.AlternateBase: "paper",
        role.Text: "ink",
        role.Button: "raised",
        role.ButtonText: "ink",
        role.BrightText: "stop",
        role.ToolTipBase: "raised",
        role.ToolTipText: "ink",
        role.PlaceholderText: "muted",
        role.Highlight: "fit",
        role.HighlightedText: "on_fit",
        role.Accent: "fit",
        role.Link: "fit",
        role.Light: "raised",
        role.Midlight: "line",
        role.Mid: "line",
        role.Dark: "edge",
        role.Shadow: "edge",
    }
    palette = QPalette()
    for place, name in colours.items():
        palette.setColor(place, theme.color(name))
    for place in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, place, theme.color("muted"))
    return palette


def apply(application: QApplication, theme: Theme) -> None:
    """Dress the whole application in ``theme``."""
    if application.property("theme") is None:
        application.setStyle(QStyleFactory.create("Fusion"))
        application.setFont(_font(application.font()))
    application.setProperty("theme", theme.name)
    application.setPalette(_palette(theme))
    values = {name: getattr(theme, name) for name in Theme.__slots__}
    application.setStyleSheet(_SHEET.substitute(values))


def _font(font: QFont) -> QFont:
    """Give the desktop's font in a size to read at arm's length, with digits of one width."""
    font.setPointSizeF(max(font.pointSizeF(), 10.0))
    font.setFeature(QFont.Tag("tnum"), 1)
    return font
