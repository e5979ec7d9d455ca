package author

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"github.com/fascia-bench/fascia/suites"
)

// Whatever is found out, what is written can be read by those it is written for.
func TestInitWritesWhatTheParserReads(t *testing.T) {
	for _, f := range []Facts{
		{Name: "Gewächshaus Nebel", Clock: true},
		{Name: "x", Link: "twin:build/ui one.wasm", Width: 64, Height: 32, Format: "mono-row", Root: "/r", Prefix: "firmware/ui/"},
		{Name: "off", Link: "serial:usb=1a2b:0042:A 1", Others: []string{"serial:COM3"}, Root: "/r", Clock: true},
	} {
		top := t.TempDir()
		dir := filepath.Join(top, filepath.FromSlash(f.Prefix))
		if err := os.MkdirAll(dir, 0o777); err != nil {
			t.Fatal(err)
		}
		if f.Format != "" {
			f.Format = "rgb565le"
		}
		if _, err := Init(dir, f); err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		plan, err := suites.Prepare(filepath.Join(dir, "bench.yaml"), nil)
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		if f.Link != "" && plan.Bench.Link != f.Link {
			t.Errorf("%s: link %q, want %q", f.Name, plan.Bench.Link, f.Link)
		}
		if len(plan.Walks) != 1 || len(plan.Walks[0].Looks()) != 1 {
			t.Errorf("%s: %d walks", f.Name, len(plan.Walks))
		}
		text, err := os.ReadFile(filepath.Join(top, ".github/workflows/fascia.yml"))
		if f.Root == "" {
			if err == nil {
				t.Errorf("%s: a workflow without git", f.Name)
			}
			continue
		}
		var flow struct {
			Jobs map[string]struct {
				Steps []map[string]any
			}
		}
		if err != nil || yaml.Unmarshal(text, &flow) != nil || len(flow.Jobs["screens"].Steps) != 5 {
			t.Errorf("%s: %v, the workflow reads as %+v", f.Name, err, flow)
		}
		if forks := strings.Contains(string(text), "pull_request"); forks != strings.HasPrefix(f.Link, "twin:") {
			t.Errorf("%s: runs for pull requests: %t, on a machine of one's own that lets strangers in", f.Name, forks)
		}
	}
}

// A folder that nobody may write to. Root may write to any but those of the kernel.
func TestInitInReadOnlyFolder(t *testing.T) {
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	if os.WriteFile(filepath.Join(dir, "probe"), nil, 0o666) == nil {
		dir = map[string]string{"linux": "/proc/self"}[runtime.GOOS]
		if dir == "" {
			t.Fatal("this user may write to a read-only folder: run the tests as another")
		}
	}
	done, err := Init(dir, Facts{Name: "x"})
	if err == nil || len(done) != 0 || !strings.Contains(err.Error(), filepath.Join(dir, "bench.yaml")) {
		t.Errorf("done %v, error %v; want one that names the file", done, err)
	}
}

func TestScalarIsReadAsTheSameText(t *testing.T) {
	for _, text := range []string{"home", "off", "No", "null", "12", "1.5", "a: b", "a #b", "twin:", "twin:ui.wasm", "", " x", "x ", "ä", "-", "- a",
		"\"", "a\nb", "\t", "{a}", "[a", "*a", "&a", "!a", "%a", "@a", "`a", "a,b", "2031-05-04", "0x1F", "~", ".", "..", ".5", "=", "<a&b>"} {
		var got struct{ A string }
		if err := yaml.Unmarshal([]byte("a: "+scalar(text)+"\n"), &got); err != nil || got.A != text {
			t.Errorf("%q is written %s and read %q, %v", text, scalar(text), got.A, err)
		}
		var list []string
		if err := yaml.Unmarshal([]byte("- "+scalar(text)+"\n"), &list); err != nil || len(list) != 1 || list[0] != text {
			t.Errorf("%q in a list is written %s and read %q, %v", text, scalar(text), list, err)
		}
	}
}
