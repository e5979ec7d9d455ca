package golden

import (
	"bytes"
	"image"
	"testing"
	"time"
)

// FuzzLedger: any bytes are a ledger or an error that names its line; whatever it says, asking it for goldens,
// histories and problems ends, and no chain yields two goldens.
func FuzzLedger(f *testing.F) {
	store := New(Dir(f.TempDir()), "golden")
	box := image.Rect(0, 0, 1, 1)
	for i, region := range []*image.Rectangle{nil, nil, &box} {
		img := image.NewGray(image.Rect(0, 0, 2, 2))
		img.Pix[0], img.Pix[3] = byte(i), byte(i) // outside the region, too, so that the whole stays as it was
		if _, err := store.Approve([]Approval{{Target: "t", Walk: "w", Look: "l", Picture: img, Region: region, Who: "Ada", Why: "because",
			When: time.Date(2031, 5, 4, 9, 30, i, 0, time.UTC)}}); err != nil {
			f.Fatal(err)
		}
	}
	raw, err := store.readOwn(ledgerFile)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	lines := bytes.SplitAfter(raw, []byte("\n"))
	for i := range lines { // a line lost, doubled, out of order
		f.Add(bytes.Join(append(append([][]byte{}, lines[:i]...), lines[i+1:]...), nil))
		f.Add(append(append([]byte{}, lines[i]...), raw...))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		led, err := parseLedger(raw, "golden/ledger.jsonl")
		if err != nil {
			if !bytes.Contains([]byte(err.Error()), []byte("golden/ledger.jsonl:")) {
				t.Errorf("the error names no line: %v", err)
			}
			return
		}
		for _, k := range led.keys() {
			c := led.chain(k)
			e, ok, err := c.golden()
			if ok && err != nil {
				t.Errorf("a golden and an error: %+v, %v", e, err)
			}
			if ok && (!e.whole() || c.lines[e.Hash].Hash != e.Hash) {
				t.Errorf("a golden that no line of the whole look is: %+v", e)
			}
			if got := len(c.history()); got != len(c.lines) {
				t.Errorf("a history of %d of %d lines", got, len(c.lines))
			}
			c.gaps()
			c.withdrawn()
		}
	})
}
