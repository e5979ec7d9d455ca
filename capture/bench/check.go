package bench

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
)

// Health is how a bench is doing, in figures, with advice on what is not as it should be.
type Health struct {
	Device   string `json:"device"`
	Build    string `json:"build"`
	Firmware string `json:"firmware"`
	Library  string `json:"library"`
	Protocol int    `json:"protocol"`
	Panel    string `json:"panel"`
	Reset    string `json:"last_reset"`

	RoundTrip      float64 `json:"round_trip_ms"` // median of an exchange
	RoundTripWorst float64 `json:"round_trip_worst_ms"`
	Throughput     float64 `json:"bytes_per_second"` // of a whole picture, framing included
	PictureBytes   int64   `json:"picture_bytes"`
	Resent         int64   `json:"requests_sent_again"`
	Requests       int     `json:"requests"`
	Noise          int64   `json:"noise_bytes"` // neither frame nor text
	Still          bool    `json:"still"`       // the screen came to rest
	Moving         *[4]int `json:"moving,omitempty"`
	Repeatable     bool    `json:"repeatable"` // two captures of a screen at rest are the same

	Advice []string `json:"advice"`
}

const (
	checkTrips = 50
	checkStill = 300 * time.Millisecond
	checkWait  = 3 * time.Second
)

// Check measures the link and the device's ability to hold still. It leaves the device as it is.
func (d *Device) Check(ctx context.Context) (Health, error) {
	hello := d.Hello()
	h := Health{Device: hello.Device, Build: hello.Build, Firmware: hello.Firmware, Library: hello.Library, Protocol: hello.Protocol,
		Panel: Panel{hello.Width, hello.Height, hello.Format}.String(), Reset: hello.Reset.String(), Advice: []string{}}
	var trips []float64
	for range checkTrips {
		start := time.Now()
		if err := d.Wait(ctx, 0); err != nil {
			return h, fmt.Errorf("measure the round trip: %w", err)
		}
		trips = append(trips, float64(time.Since(start).Microseconds())/1000)
	}
	slices.Sort(trips)
	h.RoundTrip, h.RoundTripWorst, h.Requests = trips[len(trips)/2], trips[len(trips)-1], checkTrips

	moving, err := d.Settle(ctx, checkStill, checkWait)
	if err != nil {
		return h, fmt.Errorf("wait for a still screen: %w", err)
	}
	h.Still = !moving
	if err := d.Greet(ctx); err != nil { // forgets the last picture, so that all of one is sent
		return h, err
	}
	start := time.Now()
	first, err := d.Look(ctx, link.LookOptions{})
	if err != nil {
		return h, fmt.Errorf("take a capture: %w", err)
	}
	h.PictureBytes = first.Bytes
	if took := time.Since(start).Seconds(); took > 0 {
		h.Throughput = float64(first.Bytes) / took
	}
	if err := d.Wait(ctx, time.Second); err != nil {
		return h, err
	}
	second, err := d.Look(ctx, link.LookOptions{})
	if err != nil {
		return h, fmt.Errorf("take a second capture: %w", err)
	}
	area := capture.Changed(first.Frame, second.Frame)
	h.Repeatable = area.Empty()
	if !area.Empty() {
		h.Moving = &[4]int{area.Min.X, area.Min.Y, area.Dx(), area.Dy()}
	}
	h.Resent, h.Noise = d.Trouble()
	h.advise()
	return h, nil
}

// What makes the advice: limits that are common practice, no source, except where a figure is named.
const (
	slowTrip     = 16.0  // ms: the latency timer that many USB serial chips start with
	slowTransfer = 12000 // bytes/s: 115,200 baud
)

func (h *Health) advise() {
	say := func(format string, args ...any) { h.Advice = append(h.Advice, fmt.Sprintf(format, args...)) }
	if h.RoundTrip >= slowTrip {
		say("A round trip takes %.0f ms: set the latency timer of the USB serial chip to 1 ms, if it has one.", h.RoundTrip)
	}
	if h.Throughput < slowTransfer && h.PictureBytes > 2000 {
		say("A whole picture takes %.1f s: raise the speed of the line if the board allows it.", float64(h.PictureBytes)/h.Throughput)
	}
	if h.Resent > 0 {
		say("%d of %d requests had to be sent again: look for a loose cable, a speed that the board does not keep, or a second program on the port.", h.Resent, h.Requests+4)
	}
	if h.Noise > 0 {
		say("%d bytes were neither frame nor text: the speed may be wrong, or bytes get lost.", h.Noise)
	}
	if m := h.Moving; m != nil {
		say("The screen moves by itself at %d,%d (%dx%d): hold the clock and feed the data in the walk; ignore the area only as the last resort.", m[0], m[1], m[2], m[3])
	} else if !h.Still {
		say("The firmware says that it is busy although nothing moves: see what its busy callback waits for.")
	}
	if h.Build == "" || h.Build == "unknown" {
		say("The device does not say which build it runs: give the agent one, so that expect in bench.yaml can check it.")
	}
}
