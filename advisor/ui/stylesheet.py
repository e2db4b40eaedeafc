"""The style of plain widgets, written from the look in force."""

from __future__ import annotations

from string import Template
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from advisor.ui.theme import Look

_STYLE = Template("""
QWidget { color: $ink; font-size: ${f15}px; }
QMainWindow, QDialog, QWidget#page, QScrollArea, QWidget#paper { background: $paper; }
QScrollArea { border: none; }
QToolTip { color: $ink; background: $card; border: 1px solid $grey; padding: 4px; }
QFrame#card { background: $card; border: ${b}px solid $edge; border-radius: ${p10}px; }
QFrame#rule { background: $line; border: none; }
QFrame#inset { background: $field; border: 1px solid $line; border-radius: ${p8}px; }
QFrame#box { background: $field; border: ${b}px solid $line; border-radius: ${p8}px; }
QFrame#box[bad="true"] { border: 2px solid $sand; }
QFrame#box[lit="true"] { border: 2px solid $dew; }
QFrame#pad, QFrame#overlay { background: $card; border: 2px solid $ink;
  border-radius: ${p10}px; }
QFrame#caution { background: $caution; border: 1px solid $caution_line;
  border-radius: ${p8}px; }
QFrame#alarm { background: $dew; border: none; }
QFrame#alarm[urgent="true"] { background: $sand; }
QFrame#alarm QLabel { color: $card; }
QLabel[role="alarm"] { font-size: ${alarm}px; font-weight: bold; }
QLabel[role="alarm_words"] { font-size: ${alarm_words}px; }
QLabel[role="aim"] { font-size: ${f24}px; font-weight: bold; }
QFrame#changed { background: $card; border: 3px solid $ink; border-radius: ${p8}px; }
QFrame#message { background: $card; border: 2px solid $dew; border-radius: ${p8}px; }
QFrame#message[kind="error"] { border: 2px solid $sand; }
QLabel { background: transparent; }
QLabel[role="title"] { font-size: ${f17}px; font-weight: bold; }
QLabel[role="small"] { font-size: ${f13}px; color: $grey; }
QLabel[role="bad"] { font-size: ${f13}px; font-weight: bold; color: $sand; }
QLabel[role="grey"] { color: $grey; }
QLabel[role="strong"] { font-weight: bold; }
QLabel[role="verdict"] { font-size: ${f56}px; font-weight: bold; }
QLabel[role="clock"] { font-size: ${f40}px; font-weight: bold; }
QLabel[role="dew"] { color: $dew; font-weight: bold; font-size: ${f17}px; }
QLabel[role="unit"] { color: $grey; font-size: ${f17}px; }
QLabel[role="hero"] { font-size: ${f36}px; font-weight: bold; }
QLineEdit { background: $field; color: $ink; border: 1px solid $line;
  border-radius: ${p6}px; min-height: ${p44}px; padding: 0 ${p8}px;
  selection-background-color: $dew; selection-color: $card; placeholder-text-color: $grey; }
QLineEdit:focus { border: 2px solid $dew; }
QLineEdit#value { font-size: ${f36}px; font-weight: bold; border: 2px solid transparent;
  background: transparent; padding: 0; min-height: ${p44}px; }
QLineEdit#value:focus { border: 2px solid $dew; }
QLineEdit#tins { font-size: ${f17}px; font-weight: bold; border: 2px solid transparent;
  background: transparent; padding: 0; placeholder-text-color: $grey; }
QLineEdit#tins:focus { border: 2px solid $dew; }
QLineEdit#time { font-size: ${f36}px; font-weight: bold; }
QComboBox, QSpinBox, QDoubleSpinBox, QDateTimeEdit { background: $field; color: $ink;
  border: 1px solid $line; border-radius: ${p6}px; min-height: ${p44}px;
  padding: 0 ${p10}px; }
QComboBox:focus, QSpinBox:focus, QDoubleSpinBox:focus, QDateTimeEdit:focus {
  border: 2px solid $dew; }
QComboBox::drop-down { border: none; width: ${p24}px; }
QComboBox#coat::drop-down { border: none; width: ${p44}px; }
QComboBox#coat::down-arrow { image: none; }
QComboBox#coat { font-size: ${f17}px; font-weight: bold; }
QComboBox QAbstractItemView { background: $card; color: $ink; border: 1px solid $grey;
  selection-background-color: $button; selection-color: $ink; }
QComboBox QAbstractItemView::item { min-height: ${p44}px; }
QPushButton, QToolButton { background: $button; color: $ink; border: ${b}px solid $edge;
  border-radius: ${p8}px; min-height: ${p44}px; min-width: ${p44}px;
  padding: 0 ${p14}px; }
QPushButton:hover, QToolButton:hover { border: 2px solid $grey; }
QPushButton:focus, QToolButton:focus { border: 2px solid $dew; }
QPushButton:disabled { color: $grey; }
QPushButton[big="true"] { min-height: ${p56}px; font-size: ${f17}px; padding: 0 ${p20}px; }
QPushButton[main="true"] { background: $go; color: $on_go; font-weight: bold; }
QPushButton[main="true"]:focus { border: 3px solid $ink; }
QPushButton[huge="true"] { min-height: ${p88}px; font-size: ${f32}px; padding: 0 ${p28}px; }
QPushButton[main="true"][halt="true"] { background: $wait; color: $card; }
QPushButton[main="true"]:disabled { background: $button; color: $grey; }
QPushButton[alarm="true"] { background: $card; color: $ink; font-size: ${alarm_key}px;
  font-weight: bold; min-height: 88px; border: 3px solid $card; }
QPushButton[alarm="true"]:focus { border: 3px solid $ink; }
QPushButton[alarm="true"]:disabled { color: $grey; }
QPushButton[key="true"] { font-size: ${f24}px; font-weight: bold; min-height: ${p52}px;
  min-width: ${p60}px; padding: 0; }
QPushButton[step="true"] { font-size: ${f24}px; font-weight: bold; padding: 0;
  max-width: ${p44}px; }
QPushButton[choice="true"]:checked { background: $ink; color: $card; }
QFrame#header { background: $header; }
QFrame#header QLabel { color: $header_ink; }
QFrame#header QLabel[role="title"] { font-size: ${f20}px; }
QFrame#header QLabel[role="small"] { color: $header_grey; }
QFrame#header QPushButton, QFrame#header QToolButton { background: transparent;
  color: $header_ink; border: 2px solid transparent; padding: 0 ${p10}px; }
QFrame#header QPushButton:hover, QFrame#header QToolButton:hover {
  border: 2px solid $header_grey; }
QFrame#header QPushButton:focus, QFrame#header QToolButton:focus {
  border: 2px solid $header_ink; }
QFrame#header QPushButton[tab="true"] { padding: 0 ${p10}px; }
QFrame#header QPushButton[tab="true"]:checked { background: $paper; color: $ink; }
QFrame#header QPushButton:disabled { color: $header_grey; }
QToolButton::menu-indicator { image: none; width: 0; }
QMenu { background: $card; color: $ink; border: 1px solid $grey; }
QMenu::item { padding: ${p12}px ${p24}px; }
QMenu::item:selected { background: $button; }
QMenu::separator { height: 1px; background: $line; }
QFrame#footer { background: $header; border-radius: ${p10}px; }
QFrame#footer QLabel { color: $header_ink; }
QFrame#footer QLabel[role="grey"] { color: $header_grey; }
QScrollBar:vertical { background: $paper; width: ${p16}px; }
QScrollBar::handle:vertical { background: $line; border-radius: ${p6}px; min-height: 40px; }
QScrollBar:horizontal { background: $paper; height: ${p16}px; }
QScrollBar::handle:horizontal { background: $line; border-radius: ${p6}px; min-width: 40px; }
QScrollBar::add-line:horizontal, QScrollBar::sub-line:horizontal { width: 0; }
QScrollBar::add-line, QScrollBar::sub-line { height: 0; width: 0; }
QCheckBox::indicator { width: ${p24}px; height: ${p24}px; background: $field;
  border: 2px solid $grey; border-radius: ${p6}px; }
QCheckBox { border: 2px solid transparent; border-radius: ${p6}px; }
QCheckBox:focus { border: 2px solid $dew; }
QCheckBox::indicator:checked { background: $dew; border: 2px solid $ink; }
QTableView#paged { background: $card; alternate-background-color: $field; color: $ink;
  border: 2px solid $line; border-radius: 2px; selection-background-color: $button;
  selection-color: $ink; }
QTableView#paged:focus { border: 2px solid $dew; }
QTableView#paged::item { padding: 0 ${p8}px; border: none; }
QHeaderView { background: $card; }
QHeaderView::section { background: $card; color: $grey; border: none; font-weight: bold;
  border-bottom: 2px solid $line; padding: 0 ${p8}px; min-height: ${p44}px; }
QTextBrowser { background: $card; color: $ink; border: 2px solid $card; }
QTextBrowser:focus { border: 2px solid $dew; }
QFrame#box:focus { border: 3px solid $ink; }
""")

_FONTS = (12, 13, 15, 17, 20, 24, 32, 36, 40, 56)
_LENGTHS = (6, 8, 10, 12, 14, 16, 20, 24, 28, 44, 52, 56, 60, 88)


def stylesheet(look: Look) -> str:
    """Fill the style in with the colours and sizes of a look."""
    values: dict[str, object] = dict(vars(look.palette))
    values.update({f"f{n}": look.px(n) for n in _FONTS})
    values.update({f"p{n}": look.px(n) for n in _LENGTHS})
    # Large as it is, an alarm grows less than the page: the page must stay in sight under it.
    values["alarm"], values["alarm_words"] = max(44, look.px(32)), max(20, look.px(15))
    values["alarm_key"] = max(32, look.px(24))
    strong = look.palette.name == "high contrast"
    values["b"] = 2 if strong else 1
    values["edge"] = look.palette.ink if strong else "transparent"
    return _STYLE.substitute(values)
