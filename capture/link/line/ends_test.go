package line

import (
	"context"
	"errors"
	"io"
	"net"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
)

// TestLinesEndWithTheirContext: whatever hangs, whoever asks for the end gets it.
func TestLinesEndWithTheirContext(t *testing.T) {
	mute, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer mute.Close()
	// A device that says nothing, asked with more patience than anybody has.
	talk := func(s *Stream) func(context.Context) {
		return func(ctx context.Context) {
			_, err := link.Dial(ctx, s, link.Options{Patience: time.Hour})
			if !errors.Is(err, context.Canceled) {
				t.Errorf("a device that says nothing: %v", err)
			}
			s.Close()
		}
	}
	for _, text := range []string{"tcp:" + mute.Addr().String(), "exec:sleep 600", "exec:trap '' TERM INT HUP; sleep 600; sleep 600"} {
		s, err := Open(t.Context(), text, Options{})
		if err != nil {
			t.Fatal(err)
		}
		capturetest.Ends(t, "reading from "+text, talk(s))
	}
	// A line that was lost, and whose opening takes no end: a host that swallows packets.
	lost := &Stream{spec: Spec{Name: "lost", open: func(ctx context.Context, _ Options) (io.ReadWriteCloser, error) {
		<-ctx.Done()
		return nil, ctx.Err()
	}}, opt: Options{Patience: time.Hour, Notice: func(string) {}}, start: time.Now(), since: time.Now()}
	capturetest.Ends(t, "a lost line", talk(lost))
	d, err := OpenDump(t.Context(), "tcp:"+mute.Addr().String()+"?size=8x8&format=grey8", Options{})
	if err != nil {
		t.Fatal(err)
	}
	capturetest.Ends(t, "a dump", func(ctx context.Context) {
		if _, err := d.Grab(ctx); !errors.Is(err, ErrNoFrame) {
			t.Errorf("a dump of nothing: %v", err)
		}
	})
	d.Close()
}
