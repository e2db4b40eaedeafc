"""Help inside the window: short and plain."""

from __future__ import annotations

from PySide6.QtWidgets import QTextBrowser, QVBoxLayout, QWidget

from advisor.ui.theme import Look
from advisor.ui.widgets.caution_bar import CautionBar

_TEXT = """
<h2>Before you mix</h2>
<p><b>1. Read.</b> Air, humidity, and the <b>coldest spot</b> you will paint. If sun or a heater
warms one end, read the hottest spot too. Tap a number for the pad, or type it. <b>Enter</b>
confirms a number as read just now. <b>Record these readings</b> keeps them.</p>
<p><b>2. Look at the shape.</b> Filling means permission: a full disc is <b>Go</b>, a half one a
<b>Close call</b>, an empty ring <b>Wait</b>, a broken ring <b>Can't tell</b>, a square with
grain <b>Sand first</b>. Under it stands the <b>latest start</b> and what would turn it.</p>
<p><b>3. Mix a batch.</b> Type amounts, lot numbers and the temperature of the tins, then press
<b>Batch is mixed</b>. <b>At the bench</b> counts down from there.</p>
<p><b>No batch to time?</b> Press <b>Coat is on</b> and give the times of the first and the last
patch. Either way the coat then stands under <b>Tonight</b>, and the next coat is judged against
it. After dew, rain or washing press <b>Dried and wiped</b> when it is dry again.</p>
<h2>At the bench</h2>
<p><b>One tap for each event.</b> The big button is the likeliest: first patch, patch, coat is
on. A few minutes late? Press <b>−</b> beside <b>When</b> first. Lot numbers, films and words can
come later.</p>
<p><b>The countdown</b> says how long the batch must stand, then how long it is usable. A warm
shed makes it shorter; a cold one never makes it longer than the tins allowed.</p>
<p><b>What is due</b> flashes and sounds over every page until you press <b>Heard</b>. Sleep is
held off while a batch is live, where this computer allows it. After sleep or a restart what is
overdue comes first. It cannot sound while the program is closed.</p>
<p><b>If the air turns</b> in mid-coat, a card says carry on, look first or stop, where to stop,
how long the batch has left, and why.</p>
<h2>Tonight</h2>
<p>When each film down can take dew, and what carries it through the night. Seen it tack-free or
tape-dry? Tap it there: the record keeps it, and the data sheet's minimum stands.</p>
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
<h2>Readings</h2>
<p>Everything ever read. <b>Set up a sensor</b> follows a log file or a folder of logs, or takes
values sent over MQTT: say where it hangs and how often it reads. <b>Live</b>, <b>stale</b> and
<b>lost</b> tell its age. <b>In doubt</b> means that it stands still, jumped, sends °F for °C,
or does not agree with another sensor of its zone: such a value is kept, and never makes a go.</p>
<h2>Record</h2>
<p>It is written as you work. <b>Add to the record</b> is for what happened away from the window.
Nothing is rubbed out: <b>Correct this entry</b> leaves the old value struck through, with your
reason, name and time.</p>
<p><b>Inside the limits?</b> looks back on each coat: the worst moment, time outside, and gaps
where nobody read. A gap is <b>not known</b>, never inside. Logged a defect? <b>Why did it?</b>
ranks the causes by this coat's own record.</p>
<p><b>Report and copies</b> has the report, the page for one coat, and the export anyone can
check. Note the long number at the end of the record somewhere else each evening, or have it
signed: it proves later that nothing before it was altered. It does not prove that what was
typed was true, nor the clock. Keep copies on another disk.</p>
<p><b>On the phone:</b> choose a folder there that your phone sees, and open
<b>tonight.html</b>.</p>
<h2>Shop</h2>
<p>Say what your shop is and where it stands. Forecasts are fetched only when you switch it on;
coordinates are cut to about a kilometre (0.7 mile) before a service is asked. Without the
internet, type a forecast by hand. After three days of log from inside, the program learns how
your shop follows the weather, and shows each morning what it had said.</p>
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
