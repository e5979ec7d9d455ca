package handbook

import (
	"fmt"
	"image"
	"path/filepath"
	"slices"
	"strings"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

// A Gap is something of the device that no walk exercises.
type Gap struct {
	What string `json:"what"` // "input", "key", "feed", "screen", "touch", "look"
	Says string `json:"says"`
}

// Offers is what a device says of itself; lists are empty where it has none.
type Offers struct {
	Hello       link.Hello
	Keys, Feeds []link.Item
}

// Gaps lists what no walk exercises: keys that are never pressed, values that are never fed, looks without
// golden, screens that the log names and no look shows.
func (b *Book) Gaps(p *suites.Plan, o Offers) []Gap {
	var out []Gap
	pressed, fed, used := map[string]bool{}, map[string]bool{}, map[link.EventKind]bool{}
	for _, w := range p.Walks {
		for ; w != nil; w = w.From {
			for _, s := range w.Steps {
				switch a := s.Do.(type) {
				case suites.Key:
					for _, k := range a.Names {
						if page, id, ok := suites.KeyUsage(k); ok {
							pressed[fmt.Sprintf("%d:%d", page, id)] = true // as the device lists them
						}
					}
				case suites.Tap, suites.TapOn, suites.HoldTouch:
					used[link.TouchDown] = true
				case suites.Drag:
					used[link.TouchDown], used[link.TouchMove] = true, true
				case suites.Type:
					used[link.Text] = true
				case suites.Turn:
					used[link.Turn] = true
				case suites.Roll:
					used[link.Roll] = true
				case suites.Feed:
					for _, v := range a.Values {
						fed[v.Name] = true
					}
				}
			}
		}
	}
	for _, kind := range []struct {
		link.EventKind
		says string
	}{{link.TouchDown, "nothing is ever touched"}, {link.TouchMove, "nothing is ever dragged"}, {link.Text, "no text is ever typed"},
		{link.Turn, "the knob is never turned"}, {link.Roll, "the wheel is never rolled"}} {
		if o.Hello.Takes(kind.EventKind) && !used[kind.EventKind] {
			out = append(out, Gap{"input", kind.says})
		}
	}
	for _, k := range o.Keys {
		if !pressed[k.Value] {
			out = append(out, Gap{"key", fmt.Sprintf("key %s is never pressed", k.Name)})
		}
	}
	for _, f := range o.Feeds {
		if !fed[f.Name] {
			out = append(out, Gap{"feed", fmt.Sprintf("value %s is never fed", f.Name)})
		}
	}
	for _, s := range b.Screens {
		if len(s.Views) == 0 {
			out = append(out, Gap{"screen", fmt.Sprintf("screen %s is come to, and no walk looks at it", s.Name)})
		}
	}
	for _, v := range b.Views {
		for _, pic := range v.Pictures {
			if pic.img == nil {
				out = append(out, Gap{"look", fmt.Sprintf("%s / %s has no golden on %s", v.Walk, v.Look, pic.Target)})
			}
		}
	}
	return out
}

// GapsOnMap lists what was met by wandering about and no walk knows: screens that no golden shows, and places to
// touch that no walk touches on their screen.
func (b *Book) GapsOnMap(file string) ([]Gap, error) {
	c, dir, err := atlas.Load(file)
	if err != nil {
		return nil, err
	}
	var out []Gap
	told := map[string]bool{}
	for _, s := range c.Screens {
		name := s.Name
		if name == "" {
			name = s.Screen
		}
		known := b.called(s.Name)
		if known == nil && !b.shows(dir, s) {
			out = append(out, Gap{"screen", fmt.Sprintf("screen %s is not in any walk; one gets there by: %s", name, strings.Join(s.Road, ", "))})
			continue
		}
		if known == nil {
			continue
		}
		for _, t := range s.Targets {
			says := fmt.Sprintf("%s on screen %s is never touched", t.Name, name)
			if !told[says] && !known.touched(t.Name, image.Rect(t.X, t.Y, t.X+t.W, t.Y+t.H)) {
				told[says] = true
				out = append(out, Gap{"touch", says})
			}
		}
	}
	return out, nil
}

// shows reports whether a golden shows a screen of a map: one of its very pictures, or one like its first.
func (b *Book) shows(dir string, s atlas.Screen) bool {
	img, err := picture.Read(filepath.Join(dir, s.Picture))
	for _, v := range b.Views {
		for _, p := range v.Pictures {
			if p.img == nil {
				continue
			}
			if p.Entry.SHA256 == s.Pixels || slices.Contains(s.Others, p.Entry.SHA256) {
				return true
			}
			if err == nil && img.Bounds().Size() == p.Size && atlas.Alike(img, p.img) {
				return true
			}
		}
	}
	return false
}

func (b *Book) called(name string) *Screen {
	for _, s := range b.Screens {
		if name != "" && s.Name == name {
			return s
		}
	}
	return nil
}

// touched reports whether a walk touches something on a screen: by its name, or by a point within it.
func (s *Screen) touched(name string, at image.Rectangle) bool {
	for _, in := range s.inputs {
		if in.Says == "tap "+name {
			return true
		}
		for _, p := range in.Points {
			if image.Pt(p[0], p[1]).In(at) {
				return true
			}
		}
	}
	return false
}
