package review

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites/record"
)

// The folded changes name what their approval takes: regions that show the one change and no other, and the
// same regions taken by these numbers are written as any others.
func TestFoldedChanges(t *testing.T) {
	s := serve(t)
	res := s.ask(http.MethodGet, "folded", "", nil)
	if res.StatusCode != http.StatusOK {
		t.Fatalf("status %d: %s", res.StatusCode, why(t, res))
	}
	var list []folded
	if err := json.NewDecoder(res.Body).Decode(&list); err != nil {
		t.Fatal(err)
	}
	differ := 0
	for _, l := range s.desk.Run.Looks {
		if l.Verdict == record.Differs {
			differ++
		}
	}
	// desktest draws two lamps, each in another colour on every look that differs.
	if len(list) != 2 {
		t.Fatalf("%d changes, want the two lamps: %+v", len(list), list)
	}
	for i, c := range list {
		if c.Rank != i+1 || c.Looks != differ || !strings.HasPrefix(c.Says, "Colour #") || len(c.Takes) != differ {
			t.Errorf("change %+v, want one of a colour on %d looks", c, differ)
		}
		for _, k := range c.Takes {
			if len(k.Regions) != 1 {
				t.Errorf("of look %d the regions %v are taken, want one lamp", k.Look, k.Regions)
			}
		}
	}
}
