// Package guides executes the commands of the README and the guides, as a newcomer types them.
package guides

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/text"

	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/cmd/fascia/internal/scene"
	"github.com/fascia-bench/fascia/suites/demo"
)

func TestMain(m *testing.M) { built.Main(m) }

const root = "../../.." // of the repository

// A block is a fenced block of a guide.
type block struct {
	language string
	lines    []string
	run      bool // not told apart by a comment before it: <!-- not run here: why -->
}

// blocksOf reads the fenced blocks of a Markdown file, and its pieces of inline code.
func blocksOf(t *testing.T, file string) (blocks []block, inline []string) {
	t.Helper()
	src, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	run := true
	err = ast.Walk(goldmark.DefaultParser().Parse(text.NewReader(src)), func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.HTMLBlock:
			run = !strings.HasPrefix(string(n.Lines().Value(src)), "<!-- not run here: ")
		case *ast.FencedCodeBlock:
			blocks = append(blocks, block{string(n.Language(src)), strings.Split(string(n.Lines().Value(src)), "\n"), run})
			run = true
		case *ast.CodeSpan:
			var s strings.Builder
			for c := n.FirstChild(); c != nil; c = c.NextSibling() {
				if t, ok := c.(*ast.Text); ok {
					s.Write(t.Segment.Value(src))
				}
			}
			inline = append(inline, s.String())
		}
		return ast.WalkContinue, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return blocks, inline
}

var comment = regexp.MustCompile(`\s+#\s.*$`)

// commandOf is the command of a line of a block, without what is said of it; "" if it holds none.
func commandOf(line string) string {
	if !strings.HasPrefix(line, "fascia ") {
		return ""
	}
	return strings.TrimSpace(comment.ReplaceAllString(line, ""))
}

var flagWord = regexp.MustCompile(`(?:^|\s)(--[a-z][a-z-]*)`)

// known checks a command that is not run: the command is there, and its help names each of its flags.
func known(t *testing.T, command string) {
	t.Helper()
	words := strings.Fields(command)[1:]
	path := words[:1]
	if len(words) > 1 && (words[0] == "bench" || words[0] == "golden" || words[0] == "completion") {
		path = words[:2]
	}
	help, err := exec.Command(built.Path, append(path[:len(path):len(path)], "--help")...).CombinedOutput()
	if err != nil || !strings.Contains(string(help), "fascia "+strings.Join(path, " ")) {
		t.Errorf("%s: there is no such command\n%s", command, help)
		return
	}
	for _, m := range flagWord.FindAllStringSubmatch(strings.ReplaceAll(command, "'", " "), -1) {
		if !strings.Contains(string(help), m[1]+" ") && !strings.Contains(string(help), m[1]+"\n") {
			t.Errorf("%s: there is no flag %s", command, m[1])
		}
	}
}

// preludes are what a guide takes for granted besides the scene.
var preludes = map[string]func(scene.Scene){
	"README.md": scene.Prepared("cp bench.yaml a.yaml; cp bench.yaml b.yaml"),
}

// before are what a command takes for granted that stands after others.
var before = map[string]func(scene.Scene){
	`fascia approve --group "recoloured from=#efaa39 to=#f78a5a" --reason "new accent colour"`: scene.Prepared("fascia run --bench bench-draw-2.yaml home"),
}

// apart are commands of guides that cannot be run in the order in which they stand, and why.
var apart = map[string]string{
	"fascia run --resume runs/2031-05-04-093000": "the run in the scene is whole; the help's example takes up one that was cut off",
	"fascia run --only \"alarm && !slow\"":       "the demo's walks have no labels; the help's example gives them some",
}

// Every command in the README and in the guides is executed, in order, in a repository like the demo's. Exit status
// 1 is a verdict; 2 is none.
func TestGuides(t *testing.T) {
	guides, err := filepath.Glob(filepath.Join(root, "docs", "*.md"))
	if err != nil || len(guides) < 7 {
		t.Fatalf("%d guides, %v", len(guides), err)
	}
	guides = append(guides, filepath.Join(root, "README.md"))
	total := 0
	for _, g := range guides {
		blocks, inline := blocksOf(t, g)
		var commands []string
		for _, b := range blocks {
			for _, l := range b.lines {
				c := commandOf(l)
				switch {
				case c == "":
				case !b.run || apart[c] != "":
					known(t, c)
				default:
					commands = append(commands, c)
				}
			}
		}
		for _, c := range inline {
			if commandOf(c) != "" {
				known(t, c)
			}
		}
		total += len(commands)
		t.Run(filepath.Base(g), func(t *testing.T) {
			t.Parallel()
			s := scene.New(t)
			if before := preludes[filepath.Base(g)]; before != nil && filepath.Dir(g) == root {
				before(s)
			}
			for _, c := range commands {
				if first := before[c]; first != nil {
					first(s)
				}
				if status, out := s.Sh(c); status > 1 || status < 0 {
					t.Errorf("%s: exit status %d\n%s", c, status, out)
				}
			}
		})
	}
	if total < 30 {
		t.Errorf("only %d commands were found in the guides", total)
	}
}

// The links of the guides lead to files that are there.
func TestGuidesLinks(t *testing.T) {
	guides, err := filepath.Glob(filepath.Join(root, "docs", "*.md"))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, g := range append(guides, filepath.Join(root, "README.md"), filepath.Join(root, "DEVELOPERS.md")) {
		src, err := os.ReadFile(g)
		if err != nil {
			t.Fatal(err)
		}
		err = ast.Walk(goldmark.DefaultParser().Parse(text.NewReader(src)), func(node ast.Node, entering bool) (ast.WalkStatus, error) {
			to := ""
			switch node := node.(type) {
			case *ast.Link:
				to = string(node.Destination)
			case *ast.Image:
				to = string(node.Destination)
			}
			if to != "" && entering && !strings.Contains(to, "://") && !strings.HasPrefix(to, "#") {
				n++
				if _, err := os.Stat(filepath.Join(filepath.Dir(g), strings.Split(to, "#")[0])); err != nil {
					t.Errorf("%s: %v", g, err)
				}
			}
			return ast.WalkContinue, nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if n < 15 {
		t.Errorf("only %d links were found", n)
	}
}

// The README's way from nothing to a first approved walk, with its own bench.yaml and walk: only the link is another,
// to a twin instead of a board.
func TestNewcomer(t *testing.T) {
	blocks, _ := blocksOf(t, filepath.Join(root, "README.md"))
	files := map[string]string{}
	for _, b := range blocks {
		text := strings.Join(b.lines, "\n")
		switch {
		case b.language != "yaml":
		case strings.HasPrefix(text, "bench: "):
			files["bench.yaml"] = text
		case strings.HasPrefix(text, "walk: "):
			files["walks/start.yaml"] = text
		}
	}
	if len(files) != 2 {
		t.Fatalf("the README shows %d of bench.yaml and walks/start.yaml", len(files))
	}
	s := scene.Empty(t)
	twin, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	link := regexp.MustCompile(`link: serial:\S+`)
	if !link.MatchString(files["bench.yaml"]) {
		t.Fatal("the README's bench.yaml names no serial link")
	}
	files["bench.yaml"] = link.ReplaceAllString(files["bench.yaml"], "link: twin:ui.wasm")
	files["ui.wasm"] = string(twin)
	files[".gitconfig"] = "[user]\n\tname = Wren\n\temail = wren@fernhouse.example\n"
	for name, text := range files {
		file := filepath.Join(s.Dir, name)
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	began := time.Now()
	for _, step := range []struct {
		command string
		status  int
		says    string
	}{
		{"fascia bench check", 0, "."},
		{"fascia capture -o first.png", 0, "first.png"},
		{"fascia run", 1, "2 unapproved"},
		{`fascia approve --all --reason "first goldens"`, 0, "2"},
		{"fascia run", 0, "2 same"},
	} {
		status, out := s.Sh(step.command)
		if status != step.status || !regexp.MustCompile(step.says).MatchString(out) {
			t.Fatalf("%s: exit status %d, want %d and %q\n%s", step.command, status, step.status, step.says, out)
		}
	}
	t.Logf("from bench.yaml to a first approved walk in %.1f s of the command's time", time.Since(began).Seconds())
}
