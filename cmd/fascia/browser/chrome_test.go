// Package browser holds the tests of the review page in a real browser, Debian's Chromium.
package browser

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// A browser is Debian's Chromium without a window, for one test.
type browser struct {
	t   *testing.T
	ctx context.Context
}

func newBrowser(t *testing.T) browser {
	t.Helper()
	exe, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatalf("the review page is tested in a browser: install the package chromium (%v)", err)
	}
	alloc, stop := chromedp.NewExecAllocator(context.Background(), chromedp.ExecPath(exe), chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck,
		chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()), chromedp.WSURLReadTimeout(time.Minute),
		chromedp.Flag("disable-background-networking", true))
	ctx, done := chromedp.NewContext(alloc)
	t.Cleanup(func() {
		chromedp.Cancel(ctx) // closes the browser and waits, so that its folder can go
		done()
		stop()
	})
	b := browser{t, ctx}
	b.do(chromedp.EmulateViewport(1280, 800))
	// The page asks before it is left with something pencilled: yes.
	asks := chromedp.Events(ctx, page.JavascriptDialogOpening)
	go func() {
		for _, err := range asks {
			if err == nil {
				_, err = chromedp.Call(ctx, page.HandleJavaScriptDialog, page.HandleJavaScriptDialogParams{Accept: true})
			}
			if err != nil {
				return
			}
		}
	}()
	return b
}

func (b browser) do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.t.Fatal(err)
	}
}

// open opens the page and waits until it can be used.
func (b browser) open(url string) {
	b.t.Helper()
	b.do(chromedp.Navigate(url), chromedp.WaitReady("html[data-ready]"))
}

// press presses keys one after another.
func (b browser) press(keys ...string) {
	b.t.Helper()
	for _, k := range keys {
		b.do(chromedp.KeyEvent(k))
	}
}

// eval returns the value of a script's expression.
func eval[T any](b browser, script string) T {
	b.t.Helper()
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script))
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return out
}

func (b browser) text(id string) string {
	b.t.Helper()
	return eval[string](b, fmt.Sprintf("document.getElementById(%q).textContent.trim()", id))
}

// until waits for an expression to become true.
func (b browser) until(script, what string) {
	b.t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if eval[bool](b, "!!("+script+")") {
			return
		}
	}
	b.t.Fatalf("%s: %s never came true; the title is %q, the toast %q", what, script, b.text("title"), b.text("toast"))
}

// look waits until a look is open in the large view.
func (b browser) look(title string) {
	b.t.Helper()
	b.until(fmt.Sprintf("document.getElementById('title').textContent === %q && document.activeElement.id === 'stage'", title), "opening "+title)
}

func (b browser) light(scheme string) {
	b.t.Helper()
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return err
	}))
}

// inReadme are the screenshots that the README shows.
var inReadme = map[string]string{"index-light": "handbook.png", "light-1280-look": "review.png", "light-1280-trails": "review-trails.png", "dark-400-look": "review-phone.png"}

// shoot keeps a screenshot of the window, if the environment or -update asks for it.
func (b browser) shoot(name string) {
	b.t.Helper()
	dir := os.Getenv("FASCIA_SHOTS")
	if *update && inReadme[name] != "" {
		dir, name = "../../../.github/pictures", strings.TrimSuffix(inReadme[name], ".png")
	}
	if dir == "" {
		return
	}
	time.Sleep(350 * time.Millisecond)
	b.until(`[...document.images].every(i => {
		const r = i.getBoundingClientRect();
		return r.width === 0 || r.bottom < 0 || r.top > innerHeight || i.complete;
	})`, "the pictures in sight")
	png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o666); err != nil {
		b.t.Fatal(err)
	}
}

// Keys that have no letter.
var escape, arrowLeft, arrowRight, arrowDown = kb.Escape, kb.ArrowLeft, kb.ArrowRight, kb.ArrowDown

// fill writes into a field in place of what it holds.
func (b browser) fill(id, text string) {
	b.t.Helper()
	eval[any](b, fmt.Sprintf("document.getElementById(%q).value = ''", id))
	b.do(chromedp.SendKeys("#"+id, text))
}
