"""Sixty-five windows of a real graphics library, drawn by one of its major versions: screens.py 5|6 FOLDER.

Debian 12: python3-pyqt5 (Qt 5.15), python3-pyqt6 (Qt 6.4), fonts-dejavu-core. Nothing is drawn here but by the library's
own widgets in its own style; what changes between the versions is what its makers changed. With two more arguments,
DEFECTS and a number 0 to 4, five of the windows are damaged as broken firmware damages them, where the widgets stand; only
these are written, and the file DEFECTS tells what is wrong with each.
"""
import os
import random
import sys

os.environ["QT_QPA_PLATFORM"] = "offscreen"
os.environ["QT_SCALE_FACTOR"] = "1"
major, folder = sys.argv[1], sys.argv[2]
if major == "5":
    from PyQt5 import QtCore, QtGui, QtWidgets as w
else:
    from PyQt6 import QtCore, QtGui, QtWidgets as w

W, H = 208, 156
WORDS = ("House Bench Tank Valve Mist Lamp Fan Frost Season Sensor Humidity Schedule Night Pump Level Guard Colour Reset "
         "Chart Alarm Name Search North South Fern Moss Orchid Herbs").split()
app = w.QApplication(["screens"])
app.setStyle("Fusion")
font = QtGui.QFont("DejaVu Sans")
font.setPixelSize(12)
app.setFont(font)
light = QtGui.QPalette(QtGui.QColor("#efefef"))
app.setPalette(light)
Horizontal = QtCore.Qt.Orientation.Horizontal


def word(r):
    return r.choice(WORDS)


def form(win, r):
    box = w.QFormLayout(win)
    for k in range(4):
        if k == 2:
            e = w.QComboBox()
            e.addItem(word(r))
        else:
            e = w.QLineEdit(word(r) + " %d" % r.randrange(90))
        box.addRow(word(r), e)


def keys(win, r):
    box = w.QGridLayout(win)
    for k in range(12):
        box.addWidget(w.QPushButton("%s" % "123456789*0#"[k]), k // 3, k % 3)


def items(win, r):
    box, it = w.QVBoxLayout(win), w.QListWidget()
    for k in range(8):
        it.addItem(word(r) + " " + word(r))
    it.setCurrentRow(r.randrange(5))
    box.addWidget(it)


def table(win, r):
    box, t = w.QVBoxLayout(win), w.QTableWidget(4, 3)
    t.setHorizontalHeaderLabels([word(r) for _ in range(3)])
    for k in range(12):
        t.setItem(k // 3, k % 3, w.QTableWidgetItem("%.1f" % (r.random() * 90)))
    t.horizontalHeader().setDefaultSectionSize(56)
    box.addWidget(t)


def bars(win, r):
    box = w.QVBoxLayout(win)
    for k in range(3):
        s = w.QSlider(Horizontal)
        s.setValue(r.randrange(100))
        p = w.QProgressBar()
        p.setTextVisible(False)
        p.setValue(20 + r.randrange(70))
        box.addWidget(s)
        box.addWidget(p)


def checks(win, r):
    box, tabs = w.QVBoxLayout(win), w.QTabWidget()
    for k in range(2):
        page = w.QWidget()
        inner = w.QVBoxLayout(page)
        for i in range(2):
            c = w.QCheckBox(word(r) + " " + word(r))
            c.setChecked(r.random() < 0.5)
            inner.addWidget(c)
        b = w.QRadioButton(word(r))
        b.setChecked(True)
        inner.addWidget(b)
        tabs.addTab(page, word(r))
    box.addWidget(tabs)


def tree(win, r):
    box, t = w.QVBoxLayout(win), w.QTreeWidget()
    t.setHeaderLabels([word(r), word(r)])
    for k in range(3):
        top = w.QTreeWidgetItem(t, [word(r), "%d" % r.randrange(99)])
        for i in range(2):
            w.QTreeWidgetItem(top, [word(r), "%d" % r.randrange(99)])
        top.setExpanded(True)
    box.addWidget(t)


def groups(win, r):
    box = w.QHBoxLayout(win)
    for k in range(2):
        g = w.QGroupBox(word(r))
        inner = w.QVBoxLayout(g)
        s = w.QSpinBox()
        s.setValue(r.randrange(99))
        inner.addWidget(s)
        inner.addWidget(w.QPushButton(word(r)))
        box.addWidget(g)


def dial(win, r):
    box = w.QHBoxLayout(win)
    d = w.QDial()
    d.setValue(r.randrange(100))
    d.setNotchesVisible(True)
    n = w.QLCDNumber(4)
    n.display("%.1f" % (r.random() * 90))
    box.addWidget(d)
    box.addWidget(n)


def page(win, r):
    box = w.QVBoxLayout(win)
    t = w.QTextBrowser()
    t.setHtml("<h3>%s</h3><p>The %s of the <b>%s</b> is %d %%.</p><ul><li>%s</li><li>%s</li></ul>" % (
        word(r), word(r), word(r), r.randrange(99), word(r), word(r)))
    box.addWidget(t)


class Plain(w.QWidget):
    """What is drawn without letters."""
    def __init__(self, r):
        super().__init__()
        self.points = [(12 + 15 * k, 20 + r.randrange(90)) for k in range(13)]
        self.smooth = r.random() < 0.5

    def paintEvent(self, _):
        p = QtGui.QPainter(self)
        p.setRenderHint(QtGui.QPainter.RenderHint.Antialiasing, self.smooth)
        p.fillRect(self.rect(), QtGui.QColor("#fffdf6"))
        for k, (x, y) in enumerate(self.points):
            p.fillRect(x, y, 9, H - 12 - y, QtGui.QColor("#3f825f" if k % 2 else "#277696"))
        p.setPen(QtGui.QPen(QtGui.QColor("#c24e2c"), 2))
        for a, b in zip(self.points, self.points[1:]):
            p.drawLine(*a, *b)
        p.setBrush(QtGui.QColor("#ebaa3c"))
        p.drawRoundedRect(150, 8, 48, 24, 8, 8)


def plain(win, r):
    box = w.QVBoxLayout(win)
    box.setContentsMargins(0, 0, 0, 0)
    box.addWidget(Plain(r))


def ask(win, r):
    box = w.QVBoxLayout(win)
    t = w.QLabel("The %s is not ready. Go on with the %s?" % (word(r), word(r)))
    t.setWordWrap(True)
    box.addWidget(t)
    row = w.QHBoxLayout()
    for k in range(2):
        b = w.QPushButton(word(r))
        b.setDefault(k == 1)
        row.addWidget(b)
    box.addLayout(row)


def title(win, r):
    win.setStyleSheet("QLabel#head {background: #1d503f; color: white; padding: 6px} QFrame#card {background: #fffdf6; border-radius: 8px}")
    box = w.QVBoxLayout(win)
    h = w.QLabel(word(r) + " " + word(r))
    h.setObjectName("head")
    card = w.QFrame()
    card.setObjectName("card")
    inner = w.QVBoxLayout(card)
    big = w.QLabel("%.1f" % (r.random() * 90))
    f = QtGui.QFont(font)
    f.setPixelSize(34)
    big.setFont(f)
    inner.addWidget(big)
    inner.addWidget(w.QLabel(word(r)))
    box.addWidget(h)
    box.addWidget(card)


KINDS = [form, keys, items, table, bars, checks, tree, groups, dial, page, plain, ask, title]


def shot(n):
    kind, r = KINDS[n % len(KINDS)], random.Random(n)
    win = w.QWidget()
    win.setFixedSize(W, H)
    kind(win, r)
    win.show()
    app.processEvents()
    # As a panel of 16 bits shows it.
    return win, win.grab().toImage().convertToFormat(QtGui.QImage.Format.Format_RGB16)


def where(win, child):
    at = child.mapTo(win, QtCore.QPoint(0, 0))
    return QtCore.QRect(at, child.size())


def over(img, rect, f):
    """Gives each pixel of a rectangle another colour."""
    for y in range(max(0, rect.top()), min(H, rect.bottom() + 1)):
        for x in range(max(0, rect.left()), min(W, rect.right() + 1)):
            img.setPixelColor(x, y, f(img.pixelColor(x, y)))


def boxed(c):  # dark letters stay, the ground behind them is black
    v = 255 - c.lightness()
    return QtGui.QColor(v // 3, v // 3, v // 3)


def damage(pictures, turn):
    """Five of the windows, by five faults of firmware; each turn takes other windows."""
    told = []

    def pick(n, what):
        n = (n + 13 * turn) % 65
        told.append((n, what))
        return pictures[n]
    win, img = pick(13 + 2, "torn at row 83: below it is another window")  # a list over a table
    other = pictures[(13 + 3 + 13 * turn) % 65][1]
    for y in range(83, H):
        for x in range(W):
            img.setPixelColor(x, y, other.pixelColor(x, y))
    win, img = pick(26 + 4, "a bar has lost its fill")
    at = where(win, win.findChildren(w.QProgressBar)[1])
    over(img, at.adjusted(2, 2, -2, -2), lambda c: QtGui.QColor("#efefef"))
    win, img = pick(39 + 11, "words stand on a black box")
    over(img, where(win, win.findChildren(w.QLabel)[0]).adjusted(0, 8, 0, -8), boxed)
    win, img = pick(52 + 12, "a word stands on a black box")
    over(img, where(win, win.findChildren(w.QLabel)[-1]), boxed)
    win, img = pick(7, "a button is gone")
    over(img, where(win, win.findChildren(w.QPushButton)[0]), lambda c: QtGui.QColor("#efefef"))
    return told


def name(n):
    return "%02d-%s" % (n, KINDS[n % len(KINDS)].__name__)


os.makedirs(folder, exist_ok=True)
pictures = [shot(n) for n in range(65)]
wanted = range(65)
if len(sys.argv) > 3:
    turn = int(sys.argv[4])
    told = damage(pictures, turn)
    wanted = [n for n, _ in told]
    with open(sys.argv[3], "w") as f:
        for n, what in told:
            f.write("%s\t%s\n" % (name(n), what))
for n in wanted:
    pictures[n][1].save(os.path.join(folder, name(n) + ".png"))
print(QtCore.QT_VERSION_STR)
