package commonmark

import (
	"bytes"
	"strings"
	"testing"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"
	"golang.org/x/net/html"
)

// What is written is what a reader of the page sees, be it in a paragraph or in a table's cell.
func FuzzText(f *testing.F) {
	for _, s := range []string{"", "a | b", "<script>alert(1)</script>", "[a](http://b)", "# a", "`a`", "&amp;", "a_b_c *d* ~~e~~", `\`, "@ada #12", "1. a", "- a", "größe", "![x](y)", "a\n\nb", "www.example.org", "~~~", "p"} {
		f.Add(s)
	}
	md := goldmark.New(goldmark.WithExtensions(extension.Table, extension.Strikethrough))
	f.Fuzz(func(t *testing.T, s string) {
		for _, r := range s {
			if r < ' ' && r != '\n' || r >= 0x7f && r < 0xa1 || r == '\ufffd' || r == '\u2028' || r == '\u2029' || r == '\u0085' {
				t.Skip("control characters have no look")
			}
		}
		var out bytes.Buffer
		if err := md.Convert([]byte("| x |\n|---|\n| "+Text(s)+" |\n\nx "+Text(s)+"\n"), &out); err != nil {
			t.Fatal(err)
		}
		root, err := html.Parse(&out)
		if err != nil {
			t.Fatal(err)
		}
		want := strings.Join(strings.Fields(s), " ")
		for n := range root.Descendants() {
			text := ""
			if n.Type == html.ElementNode && (n.Data == "td" || n.Data == "p") {
				for c := range n.ChildNodes() {
					if c.Type != html.TextNode {
						t.Errorf("%q became <%s>", s, c.Data)
					}
					text += c.Data
				}
				if n.Data == "p" {
					text = strings.TrimPrefix(text, "x")
				}
				if text = strings.TrimSpace(text); text != want {
					t.Errorf("%q is shown as %q", want, text)
				}
			}
		}
	})
}
