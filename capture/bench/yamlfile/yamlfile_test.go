package yamlfile

import (
	"errors"
	"strings"
	"testing"
	"time"
)

func TestParseRefuses(t *testing.T) {
	tests := []struct{ name, why, in, want string }{
		{"empty", "there is nothing to read", "", "w.yaml:1:1: the file is empty"},
		{"comment", "a comment is nothing", "# later\n", "w.yaml:1:1: the file is empty"},
		{"two documents", "which of them is meant?", "a: 1\n---\nb: 2\n", "w.yaml:3:1: a second document"},
		{"anchor", "what is written once is meant once", "a: &x 1\n", "w.yaml:1:4: anchors"},
		{"alias", "the same", "a: 1\nb: *x\n", "w.yaml:2:"},
		{"tag", "values are plain", "a: !!str 3\n", "w.yaml:1:4: tags"},
		{"open list", "a bracket is missing", "a: [1,\nb: 2\n", "w.yaml:1:4: not YAML"},
		{"tab", "YAML takes no tabs to indent", "\ta: 1\n", "w.yaml:1:2: not YAML"},
		{"twice", "one name, one value", "a: 1\na: 2\n", "w.yaml:2:1: "},
		{"too large", "nobody writes that by hand", strings.Repeat("#", MaxSize+1), "larger than"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Parse("w.yaml", []byte(tt.in))
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want %q: %s", err, tt.want, tt.why)
			}
		})
	}
}

func parse(t *testing.T, src string) Node {
	t.Helper()
	n, err := Parse("w.yaml", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestErrorShowsTheLine(t *testing.T) {
	n := parse(t, "walk: x\nsteps:\n  - wait: 250\n")
	pairs, err := n.Map()
	if err != nil {
		t.Fatal(err)
	}
	items, err := pairs[1].Value.List()
	if err != nil {
		t.Fatal(err)
	}
	step, err := items[0].Map()
	if err != nil {
		t.Fatal(err)
	}
	_, err = step[0].Value.Duration(0, time.Hour)
	const want = "w.yaml:3:11: 250 of what? Write the unit: 250ms or 250s\n    3    - wait: 250\n                 ^"
	if err == nil || err.Error() != want {
		t.Errorf("got\n%v\nwant\n%s", err, want)
	}
	var at *Error
	if !errors.As(err, &at) || at.Line != 3 || at.Column != 11 {
		t.Errorf("the error does not say where: %+v", at)
	}
}

func TestTextIsAsWritten(t *testing.T) {
	n := parse(t, "a: 21.40\nb: on\nc: 2031-05-04T09:30:00\nd: \"x y\"\ne: 0x10\nf:\n")
	want := map[string]string{"a": "21.40", "b": "on", "c": "2031-05-04T09:30:00", "d": "x y", "e": "0x10", "f": ""}
	pairs, err := n.Map()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pairs {
		if got := p.Value.Text(); got != want[p.Key.Text()] {
			t.Errorf("%s = %q, want %q", p.Key.Text(), got, want[p.Key.Text()])
		}
	}
	if _, err := pairs[5].Value.Scalar(); err == nil {
		t.Error("nothing was taken for a value")
	}
}

func TestAmongNamesTheNearest(t *testing.T) {
	names := []string{"tap", "turn", "type"}
	if got := Among("tpye", names); !strings.HasPrefix(got, ": did you mean \"type\"?") {
		t.Error(got)
	}
	if got := Among("elephant", names); got != ": there are tap, turn, type" {
		t.Error(got)
	}
	if got := Among("x", nil); got != ": there are none" {
		t.Error(got)
	}
}

func TestNumbersAndLists(t *testing.T) {
	n := parse(t, "a: [1, 2]\nb: [1, x]\nc: 3\nd: [1, 2, 3]\n")
	pairs, err := n.Map()
	if err != nil {
		t.Fatal(err)
	}
	if v, err := pairs[0].Value.Ints(0, 9, "x", "y"); err != nil || v[1] != 2 {
		t.Errorf("a = %v, %v", v, err)
	}
	for i, want := range map[int]string{1: "2:8: expected a whole number", 2: "3:4: expected [x, y]", 3: "4:4: expected [x, y], found 3"} {
		if _, err := pairs[i].Value.Ints(0, 9, "x", "y"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
	if _, err := pairs[2].Value.Int(0, 2); err == nil {
		t.Error("3 passed for at most 2")
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"a: 1\n", "a: [1, {b: c}]\n- x\n", "walk: home\nsteps:\n  - tap: [1, 2]\n", "a: |\n  b\n", "? a\n: b\n", "a: &x 1\nb: *x\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, in []byte) { // refusing is fine; a panic is not
		n, err := Parse("w.yaml", in)
		if err != nil {
			return
		}
		visit(n)
	})
}

func visit(n Node) {
	_ = n.Errorf("here").Error()
	_, _ = n.Scalar()
	_, _ = n.Duration(0, time.Hour)
	if n.IsMap() {
		pairs, _ := n.Map()
		for _, p := range pairs {
			visit(p.Key)
			visit(p.Value)
		}
	}
	if n.IsList() {
		items, _ := n.List()
		for _, item := range items {
			visit(item)
		}
	}
}
