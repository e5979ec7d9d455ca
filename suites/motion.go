package suites

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
)

// A Motion is what a person does next on a twin: an event, or a look.
type Motion struct {
	After time.Duration // after the one before
	Event link.Event
	Look  string
	// IsLook tells a look from an event.
	IsLook bool
}

// ReadMotions reads what a person is to do on a twin, a line each: how long after the line before, then
//
//	down X Y   move X Y   up X Y   press KEY   release KEY   turn DETENTS   look NAME
//
// Empty lines and those that begin with # do not count.
func ReadMotions(name string, r io.Reader) ([]Motion, error) {
	var list []Motion
	scan := bufio.NewScanner(r)
	for n := 1; scan.Scan(); n++ {
		text := strings.TrimSpace(scan.Text())
		if text == "" || strings.HasPrefix(text, "#") {
			continue
		}
		m, err := readMotion(text)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, n, err)
		}
		list = append(list, m)
	}
	if err := scan.Err(); err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	return list, nil
}

func readMotion(text string) (Motion, error) {
	words := append(strings.Fields(text), "") // so that there is a first
	after, err := time.ParseDuration(words[0])
	if words = words[:len(words)-1]; err != nil || after < 0 || len(words) < 2 {
		return Motion{}, fmt.Errorf("expected a time and what is done then, such as 300ms down 160 120; found %q", text)
	}
	m := Motion{After: after}
	verb, args := words[1], words[2:]
	kinds := map[string]link.EventKind{"down": link.TouchDown, "move": link.TouchMove, "up": link.TouchUp,
		"press": link.KeyDown, "release": link.KeyUp, "turn": link.Turn}
	m.Event.Kind = kinds[verb]
	switch verb {
	case "down", "move", "up":
		if len(args) != 2 {
			return m, fmt.Errorf("%s takes x and y; found %q", verb, text)
		}
		if m.Event.A, err = strconv.Atoi(args[0]); err == nil {
			m.Event.B, err = strconv.Atoi(args[1])
		}
	case "turn":
		if len(args) != 1 {
			return m, fmt.Errorf("turn takes a number of detents; found %q", text)
		}
		m.Event.A, err = strconv.Atoi(args[0])
	case "press", "release":
		page, id, ok := KeyUsage(strings.Join(args, " "))
		if !ok {
			return m, fmt.Errorf("unknown key %q: names are those that walks use", strings.Join(args, " "))
		}
		m.Event.A, m.Event.B = int(page), int(id)
	case "look":
		m.IsLook, m.Look = true, strings.Join(args, " ")
	default:
		return m, fmt.Errorf("unknown word %q: down, move, up, press, release, turn, look", verb)
	}
	if err != nil {
		return m, fmt.Errorf("expected whole numbers; found %q", text)
	}
	return m, nil
}

// readHands reads the file that bench.yaml names under hands: by the text that a walk's hand asks with, what
// the person then does, in the lines of ReadMotions without looks.
func (r *reader) readHands(file string) (map[string][]Motion, error) {
	if !inside(r.root, file) {
		return nil, fmt.Errorf("%s leads out of the folder %s", file, r.root)
	}
	src, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("read what hands do: %w", err)
	}
	root, err := yamlfile.Parse(file, src)
	if err != nil {
		return nil, err
	}
	pairs, err := root.Map()
	if err != nil {
		return nil, err
	}
	hands := map[string][]Motion{}
	for _, p := range pairs {
		text, err := p.Value.Scalar()
		if err != nil {
			return nil, err
		}
		for _, line := range strings.Split(strings.TrimSpace(text), "\n") {
			m, err := readMotion(strings.TrimSpace(line))
			if err == nil && m.IsLook {
				err = fmt.Errorf("a hand takes no look: the walk does; found %q", line)
			}
			if err != nil {
				return nil, p.Value.Errorf("%v", err)
			}
			hands[p.Key.Text()] = append(hands[p.Key.Text()], m)
		}
	}
	return hands, nil
}

// operated is a device that this program can operate as a person would, past the agent.
type operated interface {
	IsTwin() bool
	User(link.Event) error
}

// twin is the session's device if this program can be its user, else nil.
func (s *session) twin() operated {
	if t, ok := s.dev.(operated); ok && t.IsTwin() {
		return t
	}
	return nil
}

// play does on a twin what hands.yaml says about what a walk asks.
func (s *session) play(ctx context.Context, ask string) error {
	for _, m := range s.plan.hands[ask] {
		if err := s.dev.Wait(ctx, m.After); err != nil {
			return err
		}
		if err := s.twin().User(m.Event); err != nil {
			return err
		}
	}
	return nil
}

// checkHands refuses walks that need a hand which nobody is there to lend.
func (s *session) checkHands() error {
	for _, w := range s.plan.Walks {
		for ; w != nil; w = w.From {
			for _, step := range w.Steps {
				if h, ok := step.Do.(Hand); ok {
					if err := s.checkHand(step, h); err != nil {
						return err
					}
				}
			}
		}
	}
	return nil
}

func (s *session) checkHand(step Step, h Hand) error {
	switch {
	case s.twin() != nil && s.plan.hands[h.Ask] == nil:
		return step.At.Errorf("a twin has no glass to touch: write what a hand does, when asked to %s, into the file that bench.yaml names under hands", h.Ask)
	case s.twin() == nil && !s.Hands:
		return step.At.Errorf("this walk needs somebody's hand: run it at a terminal")
	}
	return nil
}
