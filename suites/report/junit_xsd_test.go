package report

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// accepted holds a JUnit file against the schema by which Jenkins reads such files, with libxml2's validator.
func accepted(t *testing.T, file string) (string, bool) {
	t.Helper()
	xmllint, err := exec.LookPath("xmllint")
	if err != nil {
		t.Fatalf("%v: install libxml2-utils", err)
	}
	out, err := exec.Command(xmllint, "--noout", "--nonet", "--schema", filepath.Join("testdata", "junit-4.xsd"), file).CombinedOutput()
	return string(out), err == nil
}

// The validator is one that refuses.
func TestJUnitSchemaRefuses(t *testing.T) {
	text := junitOf(t, mixed(t))
	for _, tt := range []struct{ old, new, why string }{
		{"<testsuites>", "<testsuites count=\"2\">", "an attribute that the format does not know"},
		{"<skipped></skipped>", "<aside></aside>", "an element that it does not know"},
		{"<testcase classname=\"home\" name=\"splash\"", "<testcase classname=\"home\"", "a testcase without a name"},
		{"</testsuites>", "", "a file cut short"},
	} {
		bad := strings.Replace(text, tt.old, tt.new, 1)
		if bad == text {
			t.Fatalf("%q is not in the file", tt.old)
		}
		file := filepath.Join(t.TempDir(), JUnitFile)
		if err := os.WriteFile(file, []byte(bad), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, ok := accepted(t, file); ok {
			t.Errorf("%s was accepted", tt.why)
		}
	}
}
