package golden

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/picture"
)

// BenchmarkGet reads one of 2,000 goldens of 320x240 that were approved three times each, and tells the
// cost as a multiple of decoding and hashing the picture, which no reader that proves it could do without.
func BenchmarkGet(b *testing.B) {
	s := New(Dir(b.TempDir()), "golden")
	screen := image.NewNRGBA(image.Rect(0, 0, 320, 240))
	for i := range 320 * 240 {
		screen.Set(i%320, i/320, color.NRGBA{uint8(i % 320 / 8 * 9), uint8(i / 320 / 6 * 5), 40, 255})
	}
	if _, err := s.Approve([]Approval{approval("w", "screen", screen)}); err != nil {
		b.Fatal(err)
	}
	// Lines alone suffice for the other looks.
	raw, err := s.fs.ReadFile(ledgerFile)
	if err != nil {
		b.Fatal(err)
	}
	next := bytes.NewBuffer(raw)
	for look := range 2000 {
		prev := ""
		for range 3 {
			e := Entry{Target: target, Walk: "w", Look: fmt.Sprint("look ", look), SHA256: lineHash(nil), Who: "Ada", Why: "reason", When: time.Unix(1<<31, 0).UTC(), Prev: prev}
			line, err := e.line()
			if err != nil {
				b.Fatal(err)
			}
			next.Write(append(line, '\n'))
			prev = e.Hash
		}
	}
	if err := s.writeSynced(ledgerFile, next.Bytes()); err != nil {
		b.Fatal(err)
	}
	png, err := s.fs.ReadFile(key{target: target, walk: "w", look: "screen"}.file())
	if err != nil {
		b.Fatal(err)
	}
	if _, _, err := s.Get(target, "w", "screen"); err != nil { // the ledger is parsed once
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := s.Get(target, "w", "screen"); err != nil {
			b.Fatal(err)
		}
	}
	perGet := b.Elapsed() / time.Duration(b.N)
	start := time.Now()
	const plain = 20
	for range plain {
		img, err := picture.Decode(bytes.NewReader(png), "")
		if err != nil {
			b.Fatal(err)
		}
		picture.Hash(img)
	}
	b.ReportMetric(float64(perGet)/float64(time.Since(start)/plain), "get/decode")
	b.ReportMetric(float64(next.Len()), "ledger-bytes")
}
