package group

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"runtime"
	"runtime/debug"
	"sync/atomic"
	"testing"
	"time"
)

// packed is a play whose pictures are PNG, as they are in runs.
func packed(tb testing.TB, looks int) []Pair {
	p := newPlay(2, looks)
	pairs := p.pairs()
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	for i := range pairs {
		before, after, err := pairs[i].Pictures()
		if err != nil {
			tb.Fatal(err)
		}
		var b, a bytes.Buffer
		if enc.Encode(&b, before) != nil || enc.Encode(&a, after) != nil {
			tb.Fatal("PNG")
		}
		pairs[i].Pictures = func() (before, after image.Image, err error) {
			if before, err = png.Decode(bytes.NewReader(b.Bytes())); err != nil {
				return nil, nil, err
			}
			after, err = png.Decode(bytes.NewReader(a.Bytes()))
			return before, after, err
		}
	}
	return pairs
}

// Looks of 320x240 with ten changes, of which all differ, with the reading of PNG. ms/look should not grow with
// their number, nor MB but for the regions that are handed on. reads is how often the pictures were read, and
// of-read the time as a multiple of reading them once.
func BenchmarkFold(b *testing.B) {
	defer debug.SetGCPercent(debug.SetGCPercent(200)) // as fascia between has it
	for _, looks := range []int{250, 500, 1000, 4000} {
		b.Run(fmt.Sprint(looks), func(b *testing.B) {
			pairs := packed(b, looks)
			start := time.Now()
			for _, p := range pairs {
				if _, _, err := p.Pictures(); err != nil {
					b.Fatal(err)
				}
			}
			once := time.Since(start)
			var reads, peak atomic.Int64
			for i := range pairs {
				read := pairs[i].Pictures
				pairs[i].Pictures = func() (image.Image, image.Image, error) {
					if n := reads.Add(1); n%64 == 0 {
						var m runtime.MemStats
						runtime.ReadMemStats(&m)
						peak.Store(max(peak.Load(), int64(m.HeapInuse)))
					}
					return read()
				}
			}
			var m runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&m)
			files := int64(m.HeapInuse) // the PNG files stand in memory here
			for b.Loop() {
				if _, err := Fold(pairs); err != nil {
					b.Fatal(err)
				}
			}
			took := b.Elapsed() / time.Duration(b.N)
			b.ReportMetric(took.Seconds(), "s")
			b.ReportMetric(took.Seconds()*1000/float64(looks), "ms/look")
			b.ReportMetric(float64(took)/float64(once), "of-read")
			b.ReportMetric(float64(peak.Load()-files)/(1<<20), "MB")
			b.ReportMetric(float64(reads.Load())/float64(b.N)/float64(looks), "reads")
			b.ReportMetric(0, "ns/op")
		})
	}
}
