// Package examples executes the examples of every command's help.
package examples

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/cmd/fascia/internal/scene"
)

func TestMain(m *testing.M) { built.Main(m) }

// A telling is what an example is expected to do where it is not simply to succeed.
type telling struct {
	status int
	says   string              // pattern in what it prints
	before func(s scene.Scene) // what the example takes for granted
	either bool                // or it finds something, as what it finds is not what is tested here
	more   string              // what is added to the command, so that a long one ends soon
}

// twinOfCommit lets the repository's own commands build a twin, of draw-1 in v2.3.0 and of draw-2 since.
var twinOfCommit = scene.Prepared(
	"printf 'bench: scratch\\ntarget: fernhouse-320\\ndevice: {link: twin:ui.wasm}\\ncommands: {bench-light-off: echo off}\\n' > bench.yaml; cp bench.yaml green-1.yaml",
	"printf 'all:\\ntwin flash:\\n\\tcp fernhouse-draw-$$(cat layer.txt).wasm ui.wasm\\n' > Makefile; printf 'ui.wasm\\nruns/\\n' > .gitignore",
	"git init -q -b main . && echo 1 > layer.txt && git add . && git commit -q -m one && git tag v2.3.0",
	"echo 2 > layer.txt && git commit -q -a -m two && git commit -q --allow-empty -m three")

// manyRuns are enough of one build to tell a change from chance.
var manyRuns = scene.Prepared(`for i in 1 2 3 4 5 6 7 8 9; do cp -r ` + scene.FirstRun + ` runs/2031-07-0$i-120000; done`)

var tellings = map[string]telling{
	`fascia approve --look home/mild --region 16,144,13,13 --reason "rounder corners"`: {status: 0, says: ``},
	`fascia bench ports`: {status: 0, says: ``},
	`fascia between runs/2031-05-04-093000 runs/2031-06-01-101500`:                            {status: 0, says: ``},
	`fascia between golden runs/2031-06-01-101500`:                                            {status: 1, says: ``},
	`fascia between --json pictures/before pictures/after`:                                    {status: 1, says: `"`},
	`fascia bisect v2.3.0 HEAD --build 'make twin' --look 'bed lamp/full'`:                    {status: 0, says: `changed in commit`, before: twinOfCommit},
	`fascia bisect v2.3.0 HEAD --build 'make && make flash' --look home --bench green-1.yaml`: {status: 0, says: `changed in commit`, before: twinOfCommit},
	// A camera that is there, and photos of it, are the business of cmd/fascia/camera.
	`fascia bench align`: {status: 2, says: `bench.yaml has no camera`},
	`fascia bench align --camera /dev/video0 --keep photos`:              {status: 2, says: `open camera "/dev/video0"`},
	`fascia bench align --panel 320x240 --photos photos -o bench.yaml`:   {status: 2, says: `photos holds 0 photos`, before: scene.Prepared(`mkdir photos`)},
	`fascia compare --bench bench.yaml golden.png photo.jpg`:             {status: 2, says: `run fascia bench align`},
	`fascia rectify --bench bench.yaml photo.jpg -o panel.png`:           {status: 2, says: `run fascia bench align`},
	`fascia compare golden.png capture.png`:                              {status: 1, says: `differs`},
	`fascia compare --ignore 252,0,68,20 --json golden.png capture.png`:  {status: 1, says: `"same": false`},
	`fascia compare -o diff.png golden.png capture.png`:                  {status: 1, says: `differs`},
	`fascia handbook --gaps`:                                             {status: 1, says: `never pressed`},
	`fascia handbook --gaps --map wander/map.json`:                       {status: 1, says: `never pressed`, before: scene.Prepared(`mkdir -p wander && printf '{"wander": 1, "screens": []}' > wander/map.json`)},
	`fascia golden prune --remove --reason "the pairing screen is gone"`: {status: 0, says: ``, before: scene.Prepared(`rm walks/pairing.yaml`)},
	`fascia init`: {status: 0, says: `bench.yaml`, before: scene.Prepared(`rm -r bench*.yaml walks golden runs`)},
	`fascia init firmware/ui --link 'serial:/dev/ttyACM0?baud=921600'`: {status: 0, says: `bench.yaml`, before: scene.Prepared(`mkdir -p firmware/ui`)},
	`fascia join part-1/runs/* part-2/runs/* -o runs/whole`: {status: 0, says: `[0-9]+ looks: [0-9]+ same, 0 differ, 0 unapproved, 0 without capture, 0 not reached`, before: scene.Prepared(
		`rm -r runs && fascia run --part 1of2 && mkdir part-1 && mv runs part-1`,
		`fascia run --part 2of2 && mkdir part-2 && mv runs part-2 && mkdir runs`)},
	// A person operates the device; a twin has no glass, which it says after all else was found well.
	`fascia record -o walks/pairing.yaml`:                                    {status: 2, says: `no glass to touch`, before: scene.Prepared(`rm walks/pairing.yaml`)},
	`fascia record -o walks/pairing.yaml --key f12 --feed pairing-code=2486`: {status: 2, says: `no glass to touch`, before: scene.Prepared(`rm walks/pairing.yaml`)},
	`fascia record -o walks/home.yaml --hands hands.txt --pictures seen`: {status: 0, says: `walks/home.yaml`, before: scene.Prepared(`rm walks/home.yaml`,
		`printf '3000ms look home\n700ms down 40 216\n70ms up 40 216\n900ms look schedule\n' > hands.txt`)},
	`fascia capture --raw framebuffer.bin --format rgb565be --size 320x240`: {status: 0, says: `320x240 rgb565be`,
		before: scene.Prepared(`head -c 153600 /dev/zero > framebuffer.bin`)},
	`fascia drift`:                                    {status: 0, says: `nothing drifted`, before: manyRuns},
	`fascia drift --look 'home*' --last 100`:          {status: 0, says: `nothing drifted`, before: manyRuns},
	`fascia drift -o plots`:                           {status: 0, says: `plots in plots`, before: manyRuns},
	`fascia wander`:                                   {either: true, more: "--steps 60"},
	`fascia wander --seed 7 --steps 10000`:            {either: true, more: "--steps 60"},
	`fascia wander --alone --bench board.yaml`:        {either: true, more: "--steps 60", before: scene.Prepared("cp bench.yaml board.yaml")},
	`fascia lint`:                                     {either: true},
	`fascia lint wander -o found`:                     {either: true, before: scene.Prepared("fascia wander --steps 60")},
	`fascia lint runs/2031-05-04-093000 --contrast 7`: {either: true},
	`fascia review`:                                   {status: 0, says: `http://127`},
	`fascia review runs/2031-05-04-093000 --listen 127.0.0.1:7070`: {status: 0, says: `http://127.0.0.1:7070`},
	`fascia run --only "alarm || chart" --stop`: {status: 0, says: `5 looks: 5 same`, before: scene.Prepared(
		`sed -i 's/^from:/labels: [alarm]\n&/' walks/alarm.yaml && sed -i 's/^from:/labels: [chart]\n&/' walks/chart.yaml`)},
	`fascia run --resume runs/2031-05-04-093000`: {status: 0, says: `[0-9]+ looks: [0-9]+ same, 0 differ, 0 unapproved, 0 without capture, 0 not reached`, before: func(s scene.Scene) {
		scene.Prepared(`rm -r runs && fascia run && mv runs/* ` + scene.FirstRun)(s)
		s.Cut(scene.FirstRun)
	}},
	`fascia approve --look "home/*" --reason "first goldens"`: {status: 0, says: `approved`, before: scene.Prepared(`rm -r golden`, `fascia run home; true`)},
}

var commandLine = regexp.MustCompile(`(?m)^  ([a-z]+)( {2,}|$)`)

// commands lists all commands that the help names, and the examples of each.
func commands(t *testing.T) (names [][]string, examples map[string][]string) {
	t.Helper()
	examples = map[string][]string{}
	var visit func(path []string)
	visit = func(path []string) {
		out, err := exec.Command(built.Path, append(path, "--help")...).Output()
		if err != nil {
			t.Fatalf("fascia %v --help: %v", path, err)
		}
		names = append(names, path)
		text := string(out)
		if _, part, ok := strings.Cut(text, "\nExamples:\n"); ok {
			part, _, _ = strings.Cut(part, "\n\n")
			for _, l := range strings.Split(part, "\n") {
				if l = strings.TrimSpace(l); l != "" {
					examples[strings.Join(path, " ")] = append(examples[strings.Join(path, " ")], l)
				}
			}
		}
		if _, part, ok := strings.Cut(text, "Available Commands:\n"); ok {
			part, _, _ = strings.Cut(part, "\n\n")
			for _, m := range commandLine.FindAllStringSubmatch(part, -1) {
				visit(append(append([]string{}, path...), m[1]))
			}
		}
	}
	visit(nil)
	return names, examples
}

// Every command's help has an example, and each does what it says in a repository that is as it takes for granted.
func TestHelpExamples(t *testing.T) {
	names, examples := commands(t)
	if len(names) < 30 {
		t.Fatalf("only %d commands were found in the help", len(names))
	}
	seen := map[string]bool{}
	for _, name := range names {
		path := strings.Join(name, " ")
		if len(examples[path]) == 0 {
			t.Errorf("fascia %s --help has no example", path)
		}
		for _, line := range examples[path] {
			command, _, _ := strings.Cut(line, "   #")
			command = strings.TrimSpace(command)
			if seen[command] {
				continue
			}
			seen[command] = true
			t.Run(strings.ReplaceAll(command, "/", "|"), func(t *testing.T) {
				t.Parallel()
				s := scene.New(t)
				want := tellings[command]
				if want.before != nil {
					want.before(s)
				}
				status, out := s.Sh(strings.TrimSpace(command + " " + want.more))
				if status == 1 && want.either {
					status = want.status
				}
				if status != want.status {
					t.Errorf("exit status %d, want %d\n%s", status, want.status, out)
				}
				if !regexp.MustCompile(want.says).MatchString(out) {
					t.Errorf("it does not say %q:\n%s", want.says, out)
				}
			})
		}
	}
	for command := range tellings {
		if !seen[command] {
			t.Errorf("no help has the example %s any more", command)
		}
	}
}

// The completions load, and complete commands and flags.
func TestCompletionsLoad(t *testing.T) {
	s := scene.New(t)
	if err := os.WriteFile(filepath.Join(s.Dir, "try.bash"), []byte(`
set -eu
. ./fascia.bash
complete -p fascia
COMP_WORDS=(fascia hand) COMP_CWORD=1 COMP_LINE="fascia hand" COMP_POINT=11 COMP_TYPE=9
_get_comp_words_by_ref() { cur=${COMP_WORDS[COMP_CWORD]} prev=fascia words=("${COMP_WORDS[@]}") cword=$COMP_CWORD; }
__ltrim_colon_completions() { :; }
_init_completion() { _get_comp_words_by_ref; }
set +eu
__start_fascia
echo "completes to: ${COMPREPLY[*]}"
`), 0o666); err != nil {
		t.Fatal(err)
	}
	status, out := s.Sh("fascia completion bash > fascia.bash && bash try.bash")
	if status != 0 || !strings.Contains(out, "completes to: handbook") {
		t.Errorf("exit status %d\n%s", status, out)
	}
}

// The manual pages render without a warning.
func TestManualPages(t *testing.T) {
	s := scene.New(t)
	status, out := s.Sh("fascia man -o man && ls man | wc -l && for f in man/*.1; do groff -man -Tutf8 -ww -z $f || exit 1; done")
	names, _ := commands(t)
	if status != 0 || len(strings.Split(strings.TrimSpace(out), "\n")) != 2 {
		t.Fatalf("exit status %d\n%s", status, out)
	}
	for _, n := range names {
		page := "fascia"
		if len(n) > 0 {
			page += "-" + strings.Join(n, "-")
		}
		if _, err := os.Stat(filepath.Join(s.Dir, "man", page+".1")); err != nil && page != "fascia-help" {
			t.Errorf("there is no page %s(1)", page)
		}
	}
	if _, out := s.Sh("groff -man -Tutf8 -P-cbou man/fascia-run.1"); !strings.Contains(out, "--resume runs/2031") {
		t.Errorf("the page of run lacks its example:\n%s", out)
	}
}

// The version is what the build was stamped with.
func TestVersionIsStamped(t *testing.T) {
	file := filepath.Join(t.TempDir(), "fascia")
	build := exec.Command("go", "build", "-ldflags", "-X main.stamp=v9.8.7", "-o", file, "github.com/fascia-bench/fascia/cmd/fascia")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	out, err := exec.Command(file, "--version").Output()
	if err != nil || !strings.HasPrefix(string(out), "fascia v9.8.7, ") {
		t.Errorf("--version says %q, %v", out, err)
	}
}
