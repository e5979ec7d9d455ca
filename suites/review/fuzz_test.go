package review

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/desktest"
)

// FuzzRequest: whatever is asked, the server answers, nothing outside the run is handed out, and only the page's
// own order to write changes a byte of the goldens.
func FuzzRequest(f *testing.F) {
	dir := f.TempDir()
	runDir := desktest.Make(f, dir, 4)
	secret := filepath.Join(dir, "secret.png")
	if err := os.WriteFile(secret, []byte("nobody's business"), 0o666); err != nil {
		f.Fatal(err)
	}
	ledger := filepath.Join(dir, "golden", "ledger.jsonl")
	was, err := os.ReadFile(ledger)
	if err != nil {
		f.Fatal(err)
	}
	desk, err := suites.OpenDesk(runDir, nil)
	if err != nil {
		f.Fatal(err)
	}
	s := New(desk, Options{Who: "Ada", Host: host, Now: func() time.Time { return desktest.Started.Add(time.Hour) }})
	for _, path := range []string{"", "index", "state", "look/0", "look/-1", "probe/0?x=1&y=2", "pic/thumb/0", "pic/golden/99", "crop/0/0/capture", "pic/../../secret.png"} {
		f.Add("GET", path, "", "")
	}
	f.Add("POST", "write", `{"who": "Ada", "why": "fuzzed", "wants": [{"look": 99}]}`, "http://"+host)
	f.Add("POST", "write", `{"wants": [{"look": -1, "regions": [1000000000]}]}`, "")
	f.Fuzz(func(t *testing.T, method, path, body, origin string) {
		r, err := http.NewRequest(method, "http://"+host+s.Path()+path, strings.NewReader(body))
		if err != nil {
			return // no client could send it
		}
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Origin", origin)
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		if w.Code == http.StatusInternalServerError {
			t.Errorf("%s %s: status 500: %s", method, path, w.Body)
		}
		if strings.Contains(w.Body.String(), "nobody's business") {
			t.Errorf("%s %s handed out a file beside the run", method, path)
		}
		now, err := os.ReadFile(ledger)
		if err != nil {
			t.Fatal(err)
		}
		if string(now) != string(was) {
			if method != http.MethodPost || origin != "http://"+host || w.Code != http.StatusOK {
				t.Errorf("%s %s from %q wrote to the ledger, with status %d", method, path, origin, w.Code)
			}
			was = now
		}
	})
}
