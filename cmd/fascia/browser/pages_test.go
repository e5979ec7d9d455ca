package browser

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/suites/demo"
)

// errOffline means that the libraries could not be had, which is no fault of the pages.
var errOffline = errors.New("the package registry does not answer")

// modules installs what npm/package-lock.json names, once, beside it: html-validate, which knows the content model of
// the HTML standard, and axe-core, which knows what the Web Content Accessibility Guidelines can be tested for.
var modules = sync.OnceValues(func() (string, error) {
	dir := filepath.Join("npm", "node_modules")
	for _, have := range []string{"axe-core/axe.min.js", "html-validate/package.json"} {
		if _, err := os.Stat(filepath.Join(dir, have)); err == nil {
			continue
		}
		npm := exec.Command("npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund")
		npm.Dir = "npm"
		if out, err := npm.CombinedOutput(); err != nil {
			for _, code := range []string{"ENOTFOUND", "EAI_AGAIN", "ECONNREFUSED", "ECONNRESET", "ENETUNREACH", "ETIMEDOUT", "E403", "E404", "E50"} {
				if strings.Contains(string(out), code) {
					return "", fmt.Errorf("%w: %s", errOffline, out)
				}
			}
			return "", fmt.Errorf("npm ci in cmd/fascia/browser/npm: %w\n%s", err, out)
		}
		break
	}
	return dir, nil
})

// pages are those that people are shown, as files: the report, the handbook, and the review page as it is served.
func pages(t *testing.T) (files []string, review string) {
	t.Helper()
	dir, runDir := upgraded(t)
	book := filepath.Join(dir, "handbook")
	built.Run(t, built.OK, "handbook", "--bench", filepath.Join(dir, demo.BenchFile), "-o", book)
	files, err := filepath.Glob(filepath.Join(book, "*.html"))
	if err != nil || len(files) < 15 {
		t.Fatalf("%d pages of the handbook, %v", len(files), err)
	}
	files = append(files, filepath.Join(runDir, "report.html"))
	review, _, _ = built.Serve(t, "review", runDir, "--by", "Ada Fern")
	return files, review
}

// The pages that people are shown are valid HTML, and those who see or move less well can use them.
func TestPages(t *testing.T) {
	dir, err := modules()
	if errors.Is(err, errOffline) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	files, review := pages(t)
	t.Run("valid", func(t *testing.T) { valid(t, dir, files, review) })
	t.Run("accessible", func(t *testing.T) { accessible(t, dir, files, review) })
}

// valid holds pages against the HTML standard, as html-validate has it.
func valid(t *testing.T, dir string, files []string, review string) {
	answer, err := http.Get(review)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	page, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	served := filepath.Join(t.TempDir(), "review.html")
	wrong := filepath.Join(t.TempDir(), "wrong.html") // so that it is known that the checker checks
	for name, text := range map[string]string{served: string(page), wrong: "<!DOCTYPE html><html lang=en><head><title>x</title></head><body><p><div></p></body></html>"} {
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	check := func(files ...string) ([]byte, error) {
		return exec.Command(filepath.Join(dir, ".bin", "html-validate"), append([]string{"--config", "npm/htmlvalidate.json"}, files...)...).CombinedOutput()
	}
	if out, err := check(append(files, served)...); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	if out, err := check(wrong); err == nil || !strings.Contains(string(out), "close-order") {
		t.Errorf("a wrong page passed: %v\n%s", err, out)
	}
}

// A violation is what axe-core found, with where.
type violation struct {
	ID, Impact, Help string
	Nodes            []struct {
		HTML   string
		Target []any
	}
}

// accessible wants no serious finding of axe-core. In the dark only colours are others.
func accessible(t *testing.T, dir string, files []string, review string) {
	axe, err := os.ReadFile(filepath.Join(dir, "axe-core", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	b := newBrowser(t)
	rules := `{}`
	check := func(name string) []violation {
		t.Helper()
		eval[any](b, string(axe)+";0")
		eval[any](b, `window.found = ""; axe.run({resultTypes: ["violations"], ...`+rules+`}).then(r => found = JSON.stringify(r.violations), e => found = "error: " + e); 0`)
		for end := time.Now().Add(2 * time.Minute); ; time.Sleep(50 * time.Millisecond) {
			text := eval[string](b, "found")
			if text == "" && time.Now().Before(end) {
				continue
			}
			var v []violation
			if err := json.Unmarshal([]byte(text), &v); err != nil {
				t.Fatalf("%s: axe: %v: %.200s", name, err, text)
			}
			return v
		}
	}
	passes := func(name string) {
		t.Helper()
		for _, v := range check(name) {
			if v.Impact != "serious" && v.Impact != "critical" {
				t.Logf("%s: %s (%s): %s, %d places", name, v.ID, v.Impact, v.Help, len(v.Nodes))
				continue
			}
			t.Errorf("%s: %s (%s): %s, %d places, such as %.300s", name, v.ID, v.Impact, v.Help, len(v.Nodes), v.Nodes[0].HTML)
		}
	}
	b.do(chromedp.Navigate("data:text/html,<title>x</title><img src=x><p style='color:%23ddd;background:%23fff'>pale"))
	if len(check("a poor page")) < 3 {
		t.Error("a page without language, description and contrast passed")
	}
	for _, scheme := range []string{"light", "dark"} {
		b.light(scheme)
		if scheme == "dark" {
			rules = `{runOnly: ["color-contrast"]}`
		}
		for _, f := range files {
			// One page of each kind is enough: they come from one template.
			switch name := filepath.Base(f); name {
			case "report.html", "index.html", "screen-home.html", "language-de.html":
				b.do(chromedp.Navigate("file://" + f))
				b.shoot(strings.TrimSuffix(name, ".html") + "-" + scheme)
				passes(name + ", " + scheme)
			}
		}
		b.open(review)
		passes("review, " + scheme)
		b.press("n")
		b.until("!document.getElementById('sheet') || document.getElementById('sheet').hidden", "a look opened")
		passes("review of a look, " + scheme)
	}
}
