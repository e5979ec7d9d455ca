#!/bin/sh
# Makes the pictures of this folder again: real windows of seven toolkits under Xvfb, 320x240, as optimised PNGs.
# Debian 12: xvfb imagemagick zopfli optipng python3-tk python3-gi gir1.2-gtk-3.0 python3-pyqt5 x11-apps x11-utils
# fluid fltk1.3-games chromium fonts-dejavu-core. Give a folder to write to; names to make, else all.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
out=$(cd "$1" && pwd)
shift
export DISPLAY=:77 GTK_THEME=Adwaita QT_STYLE_OVERRIDE=Fusion LC_ALL=C.UTF-8 NO_AT_BRIDGE=1
Xvfb $DISPLAY -screen 0 320x240x24 -nolisten tcp >/dev/null 2>&1 &
server=$!
trap 'kill $server' EXIT
sleep 1

# shot NAME SECONDS COMMAND...: what the screen shows when the program has run so long.
shot() {
	name=$1 wait=$2
	shift 2
	"$@" >/dev/null 2>&1 &
	app=$!
	sleep "$wait"
	import -window root -depth 8 "$out/$name.tmp.png"
	kill $app 2>/dev/null || true
	wait $app 2>/dev/null || true
	zopflipng -y "$out/$name.tmp.png" "$out/$name.z.png" >/dev/null
	optipng -quiet -o7 "$out/$name.tmp.png"
	if [ "$(stat -c %s "$out/$name.z.png")" -le "$(stat -c %s "$out/$name.tmp.png")" ]; then mv "$out/$name.z.png" "$out/$name.png"; else mv "$out/$name.tmp.png" "$out/$name.png"; fi
	rm -f "$out/$name.tmp.png" "$out/$name.z.png"
}

py() { # NAME SECONDS STATES: a window of toolkits.py in each state
	for state in $3; do
		shot "$1-$state" "$2" /usr/bin/python3 "$here/toolkits.py" "$(echo "$1" | tr - _)" "$state"
	done
}

web() { # NAME FILE: HTML by Chromium
	chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=320,240 --screenshot="$out/$1.tmp.png" "file://$here/$2" >/dev/null 2>&1
	convert "$out/$1.tmp.png" -crop 320x240+0+0 +repage -depth 8 "PNG24:$out/$1.png"
	rm "$out/$1.tmp.png"
	zopflipng -y "$out/$1.png" "$out/$1.png" >/dev/null
}

for ui in ${*:-tk-form tk-list tk-chart gtk-settings gtk-list gtk-dialog qt-form qt-dial qt-table athena fltk html}; do
	case $ui in
	gtk-dialog) py $ui 4 a ;;
	tk-* | gtk-* | qt-*) py $ui 4 "${STATES:-a b}" ;;
	athena)
		shot athena-calc-a 2 xcalc -geometry 320x240+0+0
		shot athena-glyphs-a 2 xfd -fn fixed -geometry 320x240+0+0
		shot athena-font-a 2 xfontsel -geometry 320x240+0+0
		;;
	fltk)
		shot fltk-checkers-a 3 /usr/games/flcheckers
		shot fltk-sudoku-a 3 /usr/games/flsudoku
		;;
	html) web html-page-a page.html ;;
	esac
done
