package author

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites"
)

// A Hand is what a person does next on a twin: an event, or a look.
type Hand struct {
	After time.Duration // after the one before
	Event link.Event
	Look  string
	// IsLook tells a look from an event.
	IsLook bool
}

// ReadHands reads what a person is to do on a twin, a line each: how long after the line before, then
//
//	down X Y   move X Y   up X Y   press KEY   release KEY   turn DETENTS   look NAME
//
// Empty lines and those that begin with # do not count.
func ReadHands(name string, r io.Reader) ([]Hand, error) {
	var hands []Hand
	scan := bufio.NewScanner(r)
	for n := 1; scan.Scan(); n++ {
		text := strings.TrimSpace(scan.Text())
		if text == "" || strings.HasPrefix(text, "#") {
			continue
		}
		h, err := readHand(text)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, n, err)
		}
		hands = append(hands, h)
	}
	if err := scan.Err(); err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	return hands, nil
}

func readHand(text string) (Hand, error) {
	words := strings.Fields(text)
	after, err := time.ParseDuration(words[0])
	if err != nil || after < 0 || len(words) < 2 {
		return Hand{}, fmt.Errorf("expected a time and what is done then, such as 300ms down 160 120; found %q", text)
	}
	h := Hand{After: after}
	verb, args := words[1], words[2:]
	kinds := map[string]link.EventKind{"down": link.TouchDown, "move": link.TouchMove, "up": link.TouchUp,
		"press": link.KeyDown, "release": link.KeyUp, "turn": link.Turn}
	h.Event.Kind = kinds[verb]
	switch verb {
	case "down", "move", "up":
		if len(args) != 2 {
			return h, fmt.Errorf("%s takes x and y; found %q", verb, text)
		}
		if h.Event.A, err = strconv.Atoi(args[0]); err == nil {
			h.Event.B, err = strconv.Atoi(args[1])
		}
	case "turn":
		if len(args) != 1 {
			return h, fmt.Errorf("turn takes a number of detents; found %q", text)
		}
		h.Event.A, err = strconv.Atoi(args[0])
	case "press", "release":
		page, id, ok := suites.KeyUsage(strings.Join(args, " "))
		if !ok {
			return h, fmt.Errorf("unknown key %q: names are those that walks use", strings.Join(args, " "))
		}
		h.Event.A, h.Event.B = int(page), int(id)
	case "look":
		h.IsLook, h.Look = true, strings.Join(args, " ")
	default:
		return h, fmt.Errorf("unknown word %q: down, move, up, press, release, turn, look", verb)
	}
	if err != nil {
		return h, fmt.Errorf("expected whole numbers; found %q", text)
	}
	return h, nil
}
