package link_test

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
)

// How many pictures go over each bad line; `make long` asks for 1000, and a million frames.
var (
	campaign = flag.Int("campaign", 40, "pictures at each rate of the bad line")
	corrupt  = flag.Int("corrupt", 100_000, "corrupted frames")
)

// Every picture handed on is right, whatever the line does: bytes flipped, dropped and inserted,
// log lines anywhere, stalls of 2 s, a restart midway. At one damaged byte in 10,000 all arrive; at
// one in 1,000 each arrives or is an error within its bound.
func TestPicturesOverABadLine(t *testing.T) {
	panel := capturetest.Panel{Width: 160, Height: 120, Format: capture.RGB565LE}
	for _, rate := range []float64{1e-5, 1e-4, 1e-3} {
		t.Run(fmt.Sprint(rate), func(t *testing.T) {
			r := rand.New(rand.NewPCG(uint64(1/rate), 42))
			noise := &capturetest.Noise{Rate: rate, LogEvery: 2000, Rand: r}
			bad := &capturetest.BadLine{Stream: device(t, panel), Noise: noise, StallEvery: 100_000, Stall: 2 * time.Second}
			lines := 0
			opt := link.Options{Tries: 8, Bound: 30 * time.Second, Log: func(link.LogLine) { lines++ }}
			c := dial(t, bad, opt)
			var arrived, refused, restarts int
			var moved int64
			var longest time.Duration
			want := panel.NewFrame()
			for i := range *campaign {
				if i%20 == 13 { // a restart in the middle of the next picture
					c.Feed(t.Context(), "crash", fmt.Sprint(500+r.IntN(3000)))
				}
				seed := r.Uint32N(1 << 30)
				fed := c.Feed(t.Context(), "paint", fmt.Sprint(seed))
				start := c.Now()
				var l link.Look
				err := fed
				if err == nil {
					l, err = c.Look(t.Context(), link.LookOptions{Still: 5 * time.Millisecond, Latest: time.Second})
				}
				took := c.Now() - start
				longest = max(longest, took)
				if took > opt.Bound+time.Second+100*time.Millisecond {
					t.Errorf("picture %d took %v, past its bound", i, took)
				}
				var restarted *link.RestartError
				if errors.As(err, &restarted) {
					restarts++
					for try := 0; c.Greet(t.Context()) != nil; try++ {
						if try > 20 {
							t.Fatal("the device does not come back")
						}
					}
					continue
				}
				if err != nil {
					refused++
					t.Logf("picture %d: %v", i, err)
					continue
				}
				arrived++
				moved += l.Bytes
				capturetest.Paint(want, seed)
				if !bytes.Equal(l.Frame.Pix, want.Pix) {
					t.Fatalf("picture %d is wrong and was handed on", i)
				}
			}
			resent, rubbish := c.Trouble()
			t.Logf("%d pictures: %d arrived, %d restarts, %d refused; %.0f bytes each, the longest took %v; %d requests repeated, "+
				"%d bytes of rubbish, %d of %d log lines, %d stalls", *campaign, arrived, restarts, refused,
				float64(moved)/float64(max(arrived, 1)), longest, resent, rubbish, lines, len(noise.Logged), bad.Stalls)
			if rate <= 1e-4 && refused > 0 {
				t.Errorf("at %v all must arrive; %d did not", rate, refused)
			}
			if restarts == 0 || arrived < *campaign*8/10 {
				t.Errorf("%d arrived, %d restarts", arrived, restarts)
			}
		})
	}
}
