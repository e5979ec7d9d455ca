package report

import (
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// wellFormed holds a page against what must be true of any.
func wellFormed(t *testing.T, page string) {
	t.Helper()
	if _, err := html.Parse(strings.NewReader(page)); err != nil {
		t.Fatal(err)
	}
	void := []string{"meta", "input", "br", "img"}
	ids, refs := map[string]bool{}, []string{}
	var open []string
	var lastHeading int
	z := html.NewTokenizer(strings.NewReader(page))
	for {
		tt := z.Next()
		if tt == html.ErrorToken {
			if !errors.Is(z.Err(), io.EOF) {
				t.Fatal(z.Err())
			}
			break
		}
		tok := z.Token()
		switch tt {
		case html.StartTagToken, html.SelfClosingTagToken:
			attr := map[string]string{}
			for _, a := range tok.Attr {
				if _, twice := attr[a.Key]; twice {
					t.Errorf("<%s> has %s twice", tok.Data, a.Key)
				}
				attr[a.Key] = a.Val
			}
			if tt == html.StartTagToken && !slices.Contains(void, tok.Data) {
				open = append(open, tok.Data)
			}
			if id, ok := attr["id"]; ok {
				if ids[id] || id == "" {
					t.Errorf("id %q is empty or used twice", id)
				}
				ids[id] = true
			}
			for _, k := range []string{"href", "src", "action", "xlink:href", "srcset", "data"} {
				v, ok := attr[k]
				switch {
				case !ok:
				case strings.HasPrefix(v, "#"):
					refs = append(refs, v[1:])
				case !strings.HasPrefix(v, "data:image/png;base64,"):
					t.Errorf("<%s %s=%.60q> leads off the page", tok.Data, k, v)
				}
			}
			for k := range attr {
				if strings.HasPrefix(k, "on") {
					t.Errorf("<%s> has %s: the page runs no script", tok.Data, k)
				}
			}
			if tok.Data == "script" || tok.Data == "iframe" || tok.Data == "object" || tok.Data == "link" || tok.Data == "base" {
				t.Errorf("a <%s> on the page", tok.Data)
			}
			if attr["role"] == "img" && strings.TrimSpace(attr["aria-label"]) == "" || tok.Data == "img" && attr["alt"] == "" {
				t.Errorf("<%s> is a picture without a text for it", tok.Data)
			}
			if tok.Data == "svg" && attr["role"] != "img" && attr["aria-hidden"] != "true" {
				t.Error("an svg is neither a picture with a text nor hidden from screen readers")
			}
			if len(tok.Data) == 2 && tok.Data[0] == 'h' && tok.Data[1] >= '1' && tok.Data[1] <= '6' {
				level := int(tok.Data[1] - '0')
				if level > lastHeading+1 {
					t.Errorf("a heading of level %d follows one of level %d", level, lastHeading)
				}
				lastHeading = level
			}
		case html.EndTagToken:
			if len(open) == 0 || open[len(open)-1] != tok.Data {
				t.Fatalf("</%s> closes %v", tok.Data, open)
			}
			open = open[:len(open)-1]
		case html.TextToken:
			if len(open) > 0 && open[len(open)-1] == "style" && (strings.Contains(tok.Data, "url(h") || strings.Contains(tok.Data, "@import")) {
				t.Error("the style loads something")
			}
		}
	}
	if len(open) > 0 {
		t.Errorf("left open: %v", open)
	}
	for _, r := range refs {
		if !ids[r] && !strings.HasPrefix(r, "m-") {
			t.Errorf("nothing has the id %q that is referred to", r)
		}
	}
}
