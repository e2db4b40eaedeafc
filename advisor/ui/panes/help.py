"""Help inside the window: short and plain."""

from __future__ import annotations

from PySide6.QtWidgets import QTextBrowser, QVBoxLayout, QWidget

from advisor.ui.theme import Look
from advisor.ui.widgets.caution_bar import CautionBar

_TEXT = """
<h2>How to use it at the bench</h2>
<p><b>1. Read.</b> Air, humidity, and the <b>coldest spot</b> you will paint. If sun or a heater
warms one end, read the hottest spot too. Tap a number for the pad, or type it. <b>Enter</b>
confirms a number as read just now. <b>Record these readings</b> keeps them.</p>
<p><b>2. Look at the shape.</b> Filling means permission: a full disc is <b>Go</b>, a half one a
<b>Close call</b>, an empty ring <b>Wait</b>, a broken ring <b>Can't tell</b>, a square with
grain <b>Sand first</b>. Under it stands the <b>latest start</b> and what would turn it.</p>
<p><b>3. Say when the coat is on.</b> Press <b>Coat is on</b> and give the times of the first
and the last patch. The coat then stands under <b>Tonight</b>, and the next coat is judged
against it. After dew, rain or washing press <b>Dried and wiped</b> when it is dry again.</p>
<h2>How it judges</h2>
<p>A start is judged until the film can take dew, not only now. The surface must stay above the
dew point: by 3 K (5.4 F°) until tack-free, by 2 K (3.6 F°) until it can take dew, unless your
data sheet asks for more. Between the rows of the sheet's table the times follow the
temperature of the surface, hour by hour. A blank in the sheet is never a zero: it
can't tell.</p>
<p><b>Typical values.</b> Until you enter your data sheet, a product gives at best a close
call.</p>
<p><b>How sure?</b> Today and tomorrow it says go or wait; the third day it says likely; later
days are an outlook. The chance is the share of possible weathers in which every limit
holds.</p>
<h2>Reading a surface well</h2>
<p>An infra-red meter pointed at gloss or bare metal reads the room, not the surface: stick on
a piece of matt tape, let it settle, read the tape. A contact probe needs a minute. Read where
it is coldest: low down, near the wall, inside steel.</p>
<h2>Coming days</h2>
<p>The space between the two lines is how far the surface is above the dew point: warm filling
where there is enough, hatched where there is too little, solid blue where it is wet. Each
coat has a lane: full height go, half height close call, dotted can't tell, nothing wait,
grain sand first. Click a lane or move with the arrow keys; the foot of the page says why.
The soft edge round the lines holds 8 of 10 possible courses of the outlook: the wider, the
less is known.</p>
<p><b>What if.</b> Move a lever and the week is drawn as it would be with a heater, a
dehumidifier, open doors, water on the floor, or a tent round the work. A dark bar across the
picture says so until you press <b>As it is</b>. Never cut the fresh air or light a flame
while solvent is wet.</p>
<h2>Shop</h2>
<p>Say what your shop is and where it stands. Forecasts are fetched only when you switch it on;
coordinates are cut to about a kilometre before a service is asked. Without the internet, type a
forecast by hand. After three days of log from inside, the program learns how your shop follows
the weather, and shows each morning what it had said.</p>
<h2>Keys</h2>
<table cellpadding="4">
<tr><td><b>Ctrl+1 … Ctrl+8</b></td>
<td>Before you mix, At the bench, Tonight, Coming days, Readings, Record, Shop, Help (also
F1)</td></tr>
<tr><td><b>Ctrl+B</b></td><td>bench scale: everything half as large again</td></tr>
<tr><td><b>Ctrl+U</b></td><td>metric or US units</td></tr>
<tr><td><b>Ctrl+L</b></td><td>light, dark, high contrast</td></tr>
<tr><td><b>Tab, arrows</b></td><td>to every field; arrows step a reading</td></tr>
<tr><td><b>Escape</b></td><td>puts the number pad away and keeps what you typed</td></tr>
<tr><td><b>In Coming days</b></td><td>left, right: five minutes (with Ctrl an hour, with Shift the
next window); up, down: coat; + and −: closer, further; Home: now</td></tr>
</table>
<p><i>It advises. The maker's data sheet, local rules and licensed practice come first.</i></p>
"""


class HelpPane(QWidget):
    """One page of text."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setObjectName("page")
        self._look = look
        self.text = QTextBrowser()
        self.text.setAccessibleName("Help")
        self._write()
        self.setFocusProxy(self.text)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.addWidget(self.text, 1)
        column.addWidget(CautionBar())
        look.changed.connect(self._write)

    def _write(self) -> None:
        self.text.document().setDefaultStyleSheet(
            f"body {{ color: {self._look.palette.ink}; font-size: {self._look.px(15)}px; }}"
            f"h2 {{ font-size: {self._look.px(20)}px; }}"
        )
        self.text.document().setDocumentMargin(24)
        self.text.setHtml(f"<body>{_TEXT}</body>")
