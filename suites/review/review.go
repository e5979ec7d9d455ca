// Package review serves a run as a page on which a person looks at what differs and approves what was
// meant.
//
// The page shows files and writes through a suites.Desk; it decides nothing by itself. Choices are
// pencilled in the browser and can be taken back there; they reach the ledger in one request, all or
// none, with one reason.
//
// What it serves and takes is guarded, because any page in the same browser can send requests here:
// every path starts with a random token, the Host must be the address that was listened on (or a bare IP
// address, beyond loopback), what changes anything is a POST of JSON whose Origin is the page's own, and
// the content security policy lets nothing in that is not served here.
package review

import (
	"crypto/rand"
	"crypto/subtle"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"html/template"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/fascia-bench/fascia/suites"
)

//go:embed review.css
var pageCSS []byte

// The page's script, in files that are read one by one: each uses what those before it declare. Everything it decides
// about is pencilled; only write.js changes anything.
var (
	//go:embed page/pencil.js
	pencilJS string
	//go:embed page/sheet.js
	sheetJS string
	//go:embed page/look.js
	lookJS string
	//go:embed page/keys.js
	keysJS string
	//go:embed page/write.js
	writeJS string
)

// pageJS has them in a function of its own, so that nothing in them is global.
var pageJS = []byte("'use strict';\n(() => {\n" + pencilJS + sheetJS + lookJS + keysJS + writeJS + "})();\n")

//go:embed review.tmpl
var pageText string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// Limits on what is taken.
const (
	maxBody   = 2 << 20 // a choice of every region of thousands of looks
	maxReason = 2000    // characters
	maxHeader = 16 << 10
)

// Options of a Server.
type Options struct {
	Who string // approves; the page may say another
	// Host is what the address is called by, with the port: "127.0.0.1:8080". Further names of the
	// loopback are taken as well. Beyond loopback any IP address is taken, but no name that is not this
	// one: a name can be made to point here by whoever owns it.
	Host string
	Now  func() time.Time // nil: time.Now
}

// A Server serves one run.
type Server struct {
	desk  *suites.Desk
	opt   Options
	token string
	mux   *http.ServeMux
	shelf *shelf
	// What the record alone decides is made once, before anybody asks.
	causes []cause
	known  index
	fold   folder

	mu      sync.Mutex
	written []Written
}

// Written is what one request recorded.
type Written struct {
	Why   string        `json:"why"`
	Who   string        `json:"who"`
	When  time.Time     `json:"when"`
	Deeds []suites.Deed `json:"deeds"`
}

// New returns a server for the run on a desk.
func New(desk *suites.Desk, opt Options) *Server {
	var secret [24]byte
	rand.Read(secret[:]) // never fails
	if opt.Now == nil {
		opt.Now = time.Now
	}
	s := &Server{desk: desk, opt: opt, token: base64.RawURLEncoding.EncodeToString(secret[:]), mux: http.NewServeMux(), shelf: newShelf(desk), causes: causesOf(desk.Run)}
	s.known = s.indexOf()
	s.mux.HandleFunc("GET /{$}", s.page)
	s.mux.HandleFunc("GET /review.css", asset("text/css; charset=utf-8", pageCSS))
	s.mux.HandleFunc("GET /review.js", asset("text/javascript; charset=utf-8", pageJS))
	s.mux.HandleFunc("GET /index", s.index)
	s.mux.HandleFunc("GET /state", s.state)
	s.mux.HandleFunc("GET /folded", s.folded)
	s.mux.HandleFunc("GET /look/{n}", s.look)
	s.mux.HandleFunc("GET /probe/{n}", s.probe)
	s.mux.HandleFunc("GET /pic/{kind}/{n}", s.picture)
	s.mux.HandleFunc("GET /crop/{n}/{region}/{kind}", s.crop)
	s.mux.HandleFunc("POST /write", s.write)
	return s
}

// Path is where the page is: a slash, the token, a slash.
func (s *Server) Path() string { return "/" + s.token + "/" }

// Written returns what was recorded so far.
func (s *Server) Written() []Written {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Written(nil), s.written...)
}

// HTTP returns a server with limits on what a client may send and how long it may take.
func (s *Server) HTTP() *http.Server {
	return &http.Server{Handler: s, MaxHeaderBytes: maxHeader, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: time.Minute, IdleTimeout: 2 * time.Minute}
}

// policy lets the page load what is served here and nothing else, and be framed by nobody.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// ServeHTTP checks who asks, and hands on.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer") // the address holds the token
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	if !s.knows(r.Host) {
		refuse(w, http.StatusMisdirectedRequest, "this is not where the page was opened: use the address that fascia review printed")
		return
	}
	token, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	if subtle.ConstantTimeCompare([]byte(token), []byte(s.token)) != 1 {
		refuse(w, http.StatusForbidden, "the address lacks its token: use the whole address that fascia review printed")
		return
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		if why := foreign(r); why != "" {
			refuse(w, http.StatusForbidden, why)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
	}
	r2 := r.Clone(r.Context())
	r2.URL.Path, r2.URL.RawPath = "/"+rest, ""
	s.mux.ServeHTTP(w, r2)
}

// knows reports whether a Host header is one that the page is opened by.
func (s *Server) knows(host string) bool {
	if strings.EqualFold(host, s.opt.Host) {
		return true
	}
	own, port, err := net.SplitHostPort(s.opt.Host)
	if err != nil {
		return false
	}
	name, p, err := net.SplitHostPort(host)
	if err != nil || p != port {
		return false
	}
	if Loopback(own) {
		return Loopback(name)
	}
	return net.ParseIP(name) != nil || Loopback(name)
}

// Loopback reports whether a host's name stands for this machine only.
func Loopback(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// foreign says why a request that would change something is not the page's own.
func foreign(r *http.Request) string {
	if r.Header.Get("Origin") != "http://"+r.Host {
		return "this request does not come from the review page"
	}
	if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "same-origin" {
		return "this request does not come from the review page"
	}
	if kind, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";"); strings.TrimSpace(kind) != "application/json" {
		return "what is sent here is JSON"
	}
	return ""
}

func asset(kind string, data []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		w.Write(data)
	}
}

// refuse answers with a reason that the page shows as it is.
func refuse(w http.ResponseWriter, status int, why string) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	json.NewEncoder(w).Encode(map[string]string{"error": why})
}

func answer(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(v)
}
