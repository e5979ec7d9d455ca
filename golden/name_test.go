package golden

import (
	"errors"
	"regexp"
	"strings"
	"testing"
)

type nameCase struct {
	in, want string // want "" for an error
	why      string
}

var nameCases = []nameCase{
	{"home", "home", "nothing to do"},
	{"Lamp 64", "lamp-64", "lower case, a dash for the space"},
	{"  -- temp.  21.4 °C!", "temp-21-4-c", "one dash for a run, none at the ends"},
	{"Gewächshaus Öl Übersicht Größe", "gewaechshaus-oel-uebersicht-groesse", "German spelling without umlauts"},
	{"Gewa\u0308chshaus", "gewaechshaus", "the same letter as two code points, as macOS writes it"},
	{"ÄRGER", "aerger", "capitals, too"},
	{"réglages à côté, señal, Čeština", "reglages-a-cote-senal-cestina", "accents go"},
	{"Søndag Ålborg œuvre łódź Straße", "soendag-aalborg-oeuvre-lodz-strasse", "letters without a bare form are spelled"},
	{"fernhouse_320.dark", "fernhouse-320-dark", "no dots and underscores: the store uses dots itself"},
	{"../../etc/passwd", "etc-passwd", "no way up, no separator"},
	{`..\x`, "x", "no separator of Windows"},
	{"a\x00b\xffc", "a-b-c", "control characters and broken UTF-8 are anything else"},
	{"Ｈｏｍｅ", "", "full-width letters are not ASCII and have no accent to lose"},
	{"日本語 2", "2", "what cannot be written is left out; a collision is the caller's to find"},
	{"", "", "empty"},
	{"…", "", "nothing left"},
	{"湿度", "", "nothing left"},
	{"CON", "", "Windows opens its console"},
	{"com1", "", "Windows opens a port"},
	{"com10", "com10", "no device"},
	{strings.Repeat("ä", 50), strings.Repeat("ae", 50), "just short enough"},
	{strings.Repeat("ä", 51), "", "too long"},
}

func TestFileName(t *testing.T) {
	for _, tt := range nameCases {
		got, err := FileName(tt.in)
		if got != tt.want || (tt.want == "") != errors.Is(err, ErrName) {
			t.Errorf("FileName(%q) = %q, %v, want %q: %s", tt.in, got, err, tt.want, tt.why)
		}
	}
}

func FuzzFileName(f *testing.F) {
	for _, tt := range nameCases {
		f.Add(tt.in)
	}
	safe := regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	f.Fuzz(func(t *testing.T, in string) {
		got, err := FileName(in)
		if err != nil {
			return
		}
		if !safe.MatchString(got) || len(got) > maxName {
			t.Errorf("FileName(%q) = %q, no safe file name", in, got)
		}
		if again, err := FileName(got); again != got || err != nil {
			t.Errorf("FileName(%q) = %q, %v; a file name should stay as it is", got, again, err)
		}
		k := key{target: "t", walk: "w", look: got}
		for _, photo := range []string{"", "green-1"} {
			k.photo = photo
			if back, line, ok := keyOf("t", "w", k.file()[len("t/w/"):]); !ok || back != k || line != "" {
				t.Errorf("%q is not found again by its file: %+v", k.file(), back)
			}
			hash := lineHash(nil)
			if back, line, ok := keyOf("t", "w", k.pending(hash)[len("t/w/"):]); !ok || back != k || line != hash {
				t.Errorf("%q is not found again by its pending file: %+v", k.pending(hash), back)
			}
		}
	})
}
