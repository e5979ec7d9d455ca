package review

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/desktest"
	"github.com/fascia-bench/fascia/suites/record"
)

const host = "127.0.0.1:7070"

type served struct {
	*Server
	t           *testing.T
	dir, runDir string
}

func serve(t *testing.T) served {
	t.Helper()
	dir := t.TempDir()
	runDir := desktest.Make(t, dir, 12)
	return served{reopen(t, runDir, host), t, dir, runDir}
}

func reopen(t *testing.T, runDir, host string) *Server {
	t.Helper()
	desk, err := suites.OpenDesk(runDir, nil)
	if err != nil {
		t.Fatal(err)
	}
	return New(desk, Options{Who: "Ada", Host: host, Now: func() time.Time { return desktest.Started.Add(time.Hour) }})
}

// A request is the page's own unless changed says otherwise.
func (s served) ask(method, path, body string, changed func(*http.Request)) *http.Response {
	r := httptest.NewRequest(method, "http://"+host+s.Path()+path, strings.NewReader(body))
	if method == http.MethodPost {
		r.Header.Set("Origin", "http://"+host)
		r.Header.Set("Content-Type", "application/json")
	}
	if changed != nil {
		changed(r)
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w.Result()
}

func why(t *testing.T, r *http.Response) string {
	t.Helper()
	var e struct{ Error string }
	data, _ := io.ReadAll(r.Body)
	if err := json.Unmarshal(data, &e); err != nil {
		t.Fatalf("%d without a reason: %q", r.StatusCode, data)
	}
	return e.Error
}

func (s served) ledger() string {
	data, err := os.ReadFile(filepath.Join(s.dir, "golden", "ledger.jsonl"))
	if err != nil {
		s.t.Fatal(err)
	}
	return string(data)
}

const theOrder = `{"who":"Ada","why":"new lamps","wants":[{"look":0},{"look":1,"regions":[0]}]}`

// Each request here is refused, and changes nothing.
func TestRefused(t *testing.T) {
	s := serve(t)
	was := s.ledger()
	for _, tt := range []struct {
		name, method, path, body string
		changed                  func(*http.Request)
		status                   int
		says                     string
	}{
		{"no token", "GET", "", "", func(r *http.Request) { r.URL.Path = "/" }, 403, "lacks its token"},
		{"another token", "GET", "", "", func(r *http.Request) { r.URL.Path = "/" + strings.Repeat("A", 32) + "/" }, 403, "lacks its token"},
		{"part of the token", "GET", "", "", func(r *http.Request) { r.URL.Path = s.Path()[:20] + "/" }, 403, "lacks its token"},
		{"post without token", "POST", "write", theOrder, func(r *http.Request) { r.URL.Path = "/write" }, 403, "lacks its token"},
		{"a name that points here", "GET", "", "", func(r *http.Request) { r.Host = "evil.example:7070" }, 421, "not where the page was opened"},
		{"another port", "GET", "", "", func(r *http.Request) { r.Host = "127.0.0.1:80" }, 421, "not where the page was opened"},
		{"another machine's address", "GET", "", "", func(r *http.Request) { r.Host = "192.0.2.7:7070" }, 421, "not where the page was opened"},
		{"another origin", "POST", "write", theOrder, func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") }, 403, "does not come from the review page"},
		{"the same host, encrypted", "POST", "write", theOrder, func(r *http.Request) { r.Header.Set("Origin", "https://"+host) }, 403, "does not come from the review page"},
		{"no origin", "POST", "write", theOrder, func(r *http.Request) { r.Header.Del("Origin") }, 403, "does not come from the review page"},
		{"an opaque origin", "POST", "write", theOrder, func(r *http.Request) { r.Header.Set("Origin", "null") }, 403, "does not come from the review page"},
		{"across sites", "POST", "write", theOrder, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, 403, "does not come from the review page"},
		{"a form", "POST", "write", theOrder, func(r *http.Request) { r.Header.Set("Content-Type", "application/x-www-form-urlencoded") }, 403, "JSON"},
		{"too large", "POST", "write", `{"why":"` + strings.Repeat("a", maxBody) + `"}`, nil, 413, "bytes are not taken"},
		{"too long a reason", "POST", "write", `{"who":"Ada","why":"` + strings.Repeat("ä", maxReason+1) + `","wants":[{"look":0}]}`, nil, 400, "at most"},
		{"no reason", "POST", "write", `{"who":"Ada","why":" ","wants":[{"look":0}]}`, nil, 400, "reason"},
		{"nobody", "POST", "write", `{"who":"","why":"so","wants":[{"look":0}]}`, nil, 400, "name"},
		{"nothing", "POST", "write", `{"who":"Ada","why":"so","wants":[]}`, nil, 400, "nothing is chosen"},
		{"no JSON", "POST", "write", `who=Ada`, nil, 400, "no order"},
		{"more than JSON", "POST", "write", theOrder + theOrder, nil, 400, "something follows"},
		{"an unknown field", "POST", "write", `{"who":"Ada","why":"so","force":true,"wants":[{"look":0}]}`, nil, 400, "no order"},
		{"no such look", "POST", "write", `{"who":"Ada","why":"so","wants":[{"look":99}]}`, nil, 409, "no such look"},
		{"a look twice", "POST", "write", `{"who":"Ada","why":"so","wants":[{"look":0},{"look":0}]}`, nil, 409, "named twice"},
		{"no such region", "POST", "write", `{"who":"Ada","why":"so","wants":[{"look":0,"regions":[7]}]}`, nil, 409, "no region 8"},
		{"writing by GET", "GET", "write?why=so", "", nil, 405, ""},
		{"a look by number only", "GET", "look/x", "", nil, 404, "no such look"},
		{"a picture below zero", "GET", "pic/capture/-1", "", nil, 404, "no such look"},
		{"another kind", "GET", "pic/passwd/0", "", nil, 404, "no such kind"},
		{"a pixel off the panel", "GET", "probe/0?x=99&y=0", "", nil, 404, "no such pixel"},
		{"a path upwards", "GET", "", "", func(r *http.Request) { r.URL.Path = s.Path() + "../../etc/passwd" }, 404, ""},
		{"an encoded path upwards", "GET", "pic/capture/..%2f..%2frun.json", "", nil, 404, ""},
		{"the run's folder", "GET", "run.json", "", nil, 404, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := s.ask(tt.method, tt.path, tt.body, tt.changed)
			if tt.status == 404 && (r.StatusCode == 301 || r.StatusCode == 307) { // to the path without dots, which is refused
				if strings.Contains(r.Header.Get("Location"), "..") {
					t.Errorf("sent on to %q", r.Header.Get("Location"))
				}
				return
			}
			if r.StatusCode != tt.status {
				t.Errorf("status %d, want %d", r.StatusCode, tt.status)
			}
			if tt.says != "" {
				if got := why(t, r); !strings.Contains(got, tt.says) {
					t.Errorf("it says %q, want %q", got, tt.says)
				}
			}
		})
	}
	if s.ledger() != was || len(s.Written()) != 0 {
		t.Error("a refused request changed the ledger")
	}
}

// Every answer forbids what the page does not need, and no GET writes.
func TestAnswers(t *testing.T) {
	s := serve(t)
	was := s.ledger()
	for _, path := range []string{"", "index", "state", "look/0", "look/2", "probe/0?x=5&y=9", "pic/thumb/0", "pic/golden/0", "pic/capture/2", "pic/relief/0", "crop/0/0/golden", "review.css", "review.js"} {
		r := s.ask("GET", path, "", nil)
		if r.StatusCode != 200 {
			t.Errorf("%s: %d %s", path, r.StatusCode, why(t, r))
		}
		if csp := r.Header.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") || strings.Contains(csp, "*") {
			t.Errorf("%s: the policy is %q", path, csp)
		}
		for h, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cross-Origin-Resource-Policy": "same-origin"} {
			if got := r.Header.Get(h); got != want {
				t.Errorf("%s: %s is %q", path, h, got)
			}
		}
	}
	if s.ledger() != was {
		t.Error("a GET changed the ledger")
	}
}

// By which names a page is opened.
func TestHosts(t *testing.T) {
	for _, tt := range []struct {
		own, asked string
		want       bool
	}{
		{"127.0.0.1:7070", "127.0.0.1:7070", true},
		{"127.0.0.1:7070", "localhost:7070", true},
		{"127.0.0.1:7070", "[::1]:7070", true},
		{"127.0.0.1:7070", "localhost.evil.example:7070", false},
		{"127.0.0.1:7070", "127.0.0.1.evil.example:7070", false},
		{"127.0.0.1:7070", "127.0.0.1", false},
		{"127.0.0.1:7070", "", false},
		{"bench.local:7070", "bench.local:7070", true},
		{"bench.local:7070", "evil.example:7070", false},
		{"192.0.2.7:7070", "192.0.2.8:7070", true},
		{"192.0.2.7:7070", "evil.example:7070", false},
	} {
		if got := (&Server{opt: Options{Host: tt.own}}).knows(tt.asked); got != tt.want {
			t.Errorf("served as %s, asked as %s: %v", tt.own, tt.asked, got)
		}
	}
}

// Names that came from a device or a stranger's walk are text.
func TestHostileNames(t *testing.T) {
	s := serve(t)
	run, err := record.Load(s.runDir)
	if err != nil {
		t.Fatal(err)
	}
	evil := `<img src=x onerror=alert(1)>"'</script>`
	run.Looks[0].Look, run.Looks[0].Path = evil, []record.Input{{Says: evil}}
	run.Device.Firmware, run.Walks[0].Walk, run.Looks[0].Finding.Regions[0].Says = evil, evil, evil
	run.Looks[0].Finding.Regions[0].Detail["from"] = `red"/><script>`
	if err := record.Save(filepath.Join(s.runDir, record.File), run); err != nil {
		t.Fatal(err)
	}
	s.Server = reopen(t, s.runDir, host)
	body, _ := io.ReadAll(s.ask("GET", "", "", nil).Body)
	if strings.Contains(string(body), "<img src=x") || strings.Contains(string(body), "<script>") {
		t.Error("a name became markup")
	}
	if !strings.Contains(string(body), "&lt;img src=x") {
		t.Error("the name is not shown")
	}
}

// An order is written as a whole; the state tells how looks stand, and what a later one may not do.
func TestWrite(t *testing.T) {
	s := serve(t)
	r := s.ask("POST", "write", theOrder, nil)
	if r.StatusCode != 200 {
		t.Fatal(why(t, r))
	}
	var st state
	if err := json.NewDecoder(r.Body).Decode(&st); err != nil {
		t.Fatal(err)
	}
	if !st.Standings[0].Approved || len(st.Standings[1].Regions) != 1 || len(st.Written) != 1 || len(st.Written[0].Deeds) != 2 {
		t.Errorf("the state is %+v", st)
	}
	was := s.ledger()
	r = s.ask("POST", "write", `{"who":"Ada","why":"again","wants":[{"look":2},{"look":0}]}`, nil)
	if r.StatusCode != 409 || !strings.Contains(why(t, r), "changed meanwhile") || s.ledger() != was {
		t.Errorf("a golden that is newer than the run was replaced: %d", r.StatusCode)
	}
	r = s.ask("POST", "write", `{"who":"Ada","why":"the rest","wants":[{"look":1,"regions":[1]}]}`, nil)
	if r.StatusCode != 200 {
		t.Fatal(why(t, r))
	}
	_, e, err := mustStore(t, s.dir).Get(desktest.Target, s.desk.Run.Looks[1].Walk, s.desk.Run.Looks[1].Look)
	if err != nil || e.Why != "the rest" || e.SHA256 != s.desk.Run.Looks[1].Pixels {
		t.Errorf("both regions are approved and the golden is %+v, %v", e, err)
	}
}

func mustStore(t *testing.T, dir string) *golden.Store {
	t.Helper()
	s, err := golden.Open(filepath.Join(dir, "golden"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// A picture that leads out of the run's folder, through a link or dots, is not shown and not approved.
func TestPicturesStayInside(t *testing.T) {
	s := serve(t)
	secret := filepath.Join(t.TempDir(), "secret.png")
	data, err := os.ReadFile(filepath.Join(s.runDir, filepath.FromSlash(s.desk.Run.Looks[0].Capture)))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(secret, data, 0o666); err != nil {
		t.Fatal(err)
	}
	capture := filepath.Join(s.runDir, filepath.FromSlash(s.desk.Run.Looks[0].Capture))
	if err := os.Remove(capture); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(secret, capture); err != nil {
		t.Fatal(err)
	}
	up, err := filepath.Rel(s.runDir, secret)
	if err != nil {
		t.Fatal(err)
	}
	s.desk.Run.Looks[1].Capture, s.desk.Run.Looks[1].Pixels = filepath.ToSlash(up), s.desk.Run.Looks[0].Pixels
	was := s.ledger()
	for n := range 2 {
		for _, kind := range []string{"thumb", "capture", "relief"} {
			if r := s.ask("GET", fmt.Sprintf("pic/%s/%d", kind, n), "", nil); r.StatusCode != 409 || !strings.Contains(why(t, r), "escapes") {
				t.Errorf("look %d, %s: %d", n, kind, r.StatusCode)
			}
		}
		r := s.ask("POST", "write", fmt.Sprintf(`{"who":"Ada","why":"so","wants":[{"look":%d}]}`, n), nil)
		if r.StatusCode != 409 || s.ledger() != was {
			t.Errorf("look %d was approved through a way out: %d", n, r.StatusCode)
		}
	}
}

// A capture that was edited after the run is told apart wherever it would be shown.
func TestEditedCapture(t *testing.T) {
	s := serve(t)
	l := s.desk.Run.Looks[0]
	other, err := os.ReadFile(filepath.Join(s.runDir, filepath.FromSlash(s.desk.Run.Looks[1].Capture)))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(s.runDir, filepath.FromSlash(l.Capture)), other, 0o666); err != nil {
		t.Fatal(err)
	}
	if r := s.ask("GET", "pic/thumb/0", "", nil); r.StatusCode != 409 || !strings.Contains(why(t, r), "changed after the run") {
		t.Errorf("its thumb: %d", r.StatusCode)
	}
	var d detail
	json.NewDecoder(s.ask("GET", "look/0", "", nil).Body).Decode(&d)
	if !strings.Contains(d.Problem, "changed after the run") {
		t.Errorf("the large view says %q", d.Problem)
	}
	was := s.ledger()
	if r := s.ask("POST", "write", theOrder, nil); r.StatusCode != 409 || !strings.Contains(why(t, r), "changed after the run") || s.ledger() != was {
		t.Errorf("it was approved: %d", r.StatusCode)
	}
}
