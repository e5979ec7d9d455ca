"""Real user interfaces for toolkits.sh: each function opens one window of 320x240 at the top left, made by the
named toolkit with its own look. Run as: toolkits.py NAME [STATE]; it stays until it is ended."""
import sys


def tk_window():
    import tkinter as tk
    root = tk.Tk()
    root.overrideredirect(True)
    root.geometry("320x240+0+0")
    return tk, root


def tk_form(state):
    tk, root = tk_window()
    from tkinter import ttk
    f = ttk.Frame(root, padding=8)
    f.pack(fill="both", expand=True)
    for i, (label, value) in enumerate([("House", "North bench"), ("Target", "21.5"), ("Tank", "88 l"), ("Valve", "V2")]):
        ttk.Label(f, text=label).grid(row=i, column=0, sticky="w", pady=3)
        e = ttk.Entry(f, width=26)
        e.insert(0, value)
        e.grid(row=i, column=1)
    on = tk.BooleanVar(value=state == "b")
    ttk.Checkbutton(f, text="Mist at night", variable=on).grid(row=5, column=1, sticky="w")
    ttk.Scale(f, from_=0, to=100, value=40, length=180).grid(row=6, column=1, pady=4)
    ttk.Button(f, text="Store").grid(row=7, column=1, sticky="e")
    root.mainloop()


def tk_list(state):
    tk, root = tk_window()
    box = tk.Listbox(root, font=("DejaVu Sans", 12))
    names = ["Fern %02d  %s" % (i, w) for i, w in enumerate("maidenhair hart's-tongue lady oak royal tree wood shield "
             "buckler polypody bracken rusty-back spleenwort filmy holly sword".split() * 2)]
    for n in names:
        box.insert("end", n)
    box.pack(fill="both", expand=True)
    box.yview(6 if state == "b" else 0)
    root.mainloop()


def tk_chart(state):
    import math
    tk, root = tk_window()
    c = tk.Canvas(root, bg="white")
    c.pack(fill="both", expand=True)
    for y in range(20, 230, 35):
        c.create_line(40, y, 310, y, fill="#dddddd")
        c.create_text(20, y, text=str((230 - y) // 7))
    pts = [(40 + x, 120 - 60 * math.sin(x / 33) - 20 * math.sin(x / 7)) for x in range(0, 270, 3)]
    c.create_line(*[v for p in pts for v in p], fill="#207040", width=2)
    c.create_rectangle(60, 190, 90, 228, fill="#3070c0" if state == "a" else "#c07030")
    c.create_text(170, 10, text="Leaf temperature, today")
    root.mainloop()


def gtk(build):
    import gi
    gi.require_version("Gtk", "3.0")
    from gi.repository import Gtk
    w = Gtk.Window(type=Gtk.WindowType.POPUP)
    w.set_default_size(320, 240)
    w.move(0, 0)
    w.add(build(Gtk))
    w.show_all()
    Gtk.main()


def gtk_settings(state):
    def build(Gtk):
        box = Gtk.ListBox()
        for i, name in enumerate(["Radio", "Night mist", "Key tones", "Frost alarm"]):
            row = Gtk.Box(spacing=8, margin=9)
            row.pack_start(Gtk.Label(label=name, xalign=0), True, True, 0)
            s = Gtk.Switch()
            s.set_active(i == 1 or (i == 2 and state == "b"))
            row.pack_end(s, False, False, 0)
            box.add(row)
        return box
    gtk(build)


def gtk_dialog(state):
    def build(Gtk):
        g = Gtk.Grid(row_spacing=8, column_spacing=8, margin=12)
        g.attach(Gtk.Image.new_from_icon_name("dialog-warning", Gtk.IconSize.DIALOG), 0, 0, 1, 1)
        l = Gtk.Label(label="The tank is nearly empty.\nMisting stops in two hours.", xalign=0)
        g.attach(l, 1, 0, 2, 1)
        p = Gtk.ProgressBar(fraction=0.12, hexpand=True)
        g.attach(p, 0, 1, 3, 1)
        g.attach(Gtk.SpinButton.new_with_range(0, 90, 1), 0, 2, 3, 1)
        g.attach(Gtk.Button(label="Later"), 1, 3, 1, 1)
        b = Gtk.Button(label="Stop now")
        b.get_style_context().add_class("destructive-action")
        g.attach(b, 2, 3, 1, 1)
        return g
    gtk(build)


def gtk_list(state):
    def build(Gtk):
        store = Gtk.ListStore(str, str)
        for i in range(40):
            store.append(["Sensor %d" % (i + 1), "%.1f C" % (15 + (i * 37 % 90) / 10)])
        v = Gtk.TreeView(model=store)
        for k, title in enumerate(["Place", "Value"]):
            v.append_column(Gtk.TreeViewColumn(title, Gtk.CellRendererText(), text=k))
        s = Gtk.ScrolledWindow()
        s.add(v)
        if state == "b":
            from gi.repository import GLib
            GLib.timeout_add(500, lambda: s.get_vadjustment().set_value(72))
        return s
    gtk(build)


def qt(build):
    from PyQt5 import QtCore, QtWidgets
    app = QtWidgets.QApplication([])
    w = build(QtWidgets, QtCore)
    w.setWindowFlags(QtCore.Qt.FramelessWindowHint)
    w.setGeometry(0, 0, 320, 240)
    w.show()
    app.exec_()


def qt_form(state):
    def build(W, C):
        w = W.QWidget()
        f = W.QFormLayout(w)
        f.addRow("Name", W.QLineEdit("Fernhouse"))
        combo = W.QComboBox()
        combo.addItems(["Deutsch", "English"])
        f.addRow("Language", combo)
        spin = W.QSpinBox()
        spin.setValue(21 if state == "a" else 22)
        f.addRow("Target", spin)
        s = W.QSlider(C.Qt.Horizontal)
        s.setValue(60)
        f.addRow("Mist", s)
        d = W.QDateTimeEdit(C.QDateTime(2031, 5, 4, 9, 30))
        f.addRow("Clock", d)
        f.addRow(W.QDialogButtonBox(W.QDialogButtonBox.Ok | W.QDialogButtonBox.Cancel))
        return w
    qt(build)


def qt_dial(state):
    def build(W, C):
        w = W.QWidget()
        g = W.QGridLayout(w)
        for i, v in enumerate([20, 55, 80]):
            d = W.QDial()
            d.setNotchesVisible(True)
            d.setValue(v)
            g.addWidget(d, 0, i)
            n = W.QLCDNumber()
            n.display(v)
            g.addWidget(n, 1, i)
        p = W.QProgressBar()
        p.setValue(64 if state == "a" else 66)
        g.addWidget(p, 2, 0, 1, 3)
        return w
    qt(build)


def qt_table(state):
    def build(W, C):
        t = W.QTableWidget(20, 3)
        t.setHorizontalHeaderLabels(["Hour", "Temp.", "Humid."])
        for r in range(20):
            for c, s in enumerate(["%02d:00" % r, "%.1f" % (14 + r * 7 % 11), "%d" % (60 + r * 13 % 40)]):
                t.setItem(r, c, W.QTableWidgetItem(s))
        if state == "b":
            t.verticalScrollBar().setValue(2)
        return t
    qt(build)


globals()[sys.argv[1]](sys.argv[2] if len(sys.argv) > 2 else "a")
