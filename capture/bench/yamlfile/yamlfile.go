// Package yamlfile reads the YAML that people write for fascia and answers for every value where
// it stands, so that an error can name file, line and column, show the line, and say what to
// write instead.
//
// Anchors, aliases, tags and several documents in a file are refused: what is written once in
// a walk is meant once.
package yamlfile

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// MaxSize bounds a file, in bytes.
const MaxSize = 1 << 20

// An Error is something wrong at a place in a file.
type Error struct {
	Path         string
	Line, Column int // from 1
	Message      string
	Source       string // the line itself
}

func (e *Error) Error() string {
	s := fmt.Sprintf("%s:%d:%d: %s", e.Path, e.Line, e.Column, e.Message)
	if e.Source == "" {
		return s
	}
	lead := fmt.Sprintf("%5d  ", e.Line)
	pad := []rune(strings.Repeat(" ", len(lead)))
	for i, r := range []rune(e.Source) {
		if i >= e.Column-1 {
			break
		}
		if r != '\t' {
			r = ' '
		}
		pad = append(pad, r)
	}
	return fmt.Sprintf("%s\n%s%s\n%s^", s, lead, e.Source, string(pad))
}

// A Node is a value in a file.
type Node struct {
	file *file
	n    ast.Node
	vars map[string]string // what $name stands for
}

// With returns the node with $name in its texts, and in those below it, replaced by a value.
func (n Node) With(name, value string) Node {
	vars := map[string]string{name: value}
	for k, v := range n.vars {
		if k != name {
			vars[k] = v
		}
	}
	n.vars = vars
	return n
}

func (n Node) sub(a ast.Node) Node { return Node{n.file, a, n.vars} }

// replace puts in what $name stands for, longer names first.
func (n Node) replace(text string) string {
	if len(n.vars) == 0 || !strings.Contains(text, "$") {
		return text
	}
	names := slices.SortedFunc(maps.Keys(n.vars), func(a, b string) int { return len(b) - len(a) })
	for _, name := range names {
		text = strings.ReplaceAll(text, "$"+name, n.vars[name])
	}
	return text
}

type file struct {
	path  string
	lines []string
}

// A Pair is an entry of a mapping.
type Pair struct{ Key, Value Node }

// Read reads a file of one YAML value.
func Read(path string) (Node, error) {
	info, err := os.Stat(path)
	if err != nil {
		return Node{}, err
	}
	if info.Size() > MaxSize {
		return Node{}, fmt.Errorf("%s: %d bytes are more than the %d that such a file may have", path, info.Size(), MaxSize)
	}
	src, err := os.ReadFile(path)
	if err != nil {
		return Node{}, err
	}
	return Parse(path, src)
}

// Parse is Read for bytes at hand; path names them in errors.
func Parse(path string, src []byte) (Node, error) {
	f := &file{path, strings.Split(strings.ReplaceAll(string(src), "\r\n", "\n"), "\n")}
	if len(src) > MaxSize {
		return Node{}, f.errorAt(1, 1, "the file is larger than %d bytes", MaxSize)
	}
	doc, err := parser.ParseBytes(src, 0)
	if err != nil {
		var syntax yaml.Error
		if errors.As(err, &syntax) {
			line, column := 1, 1
			if t := syntax.GetToken(); t != nil {
				line, column = t.Position.Line, t.Position.Column
			}
			return Node{}, f.errorAt(line, column, "not YAML: %s", syntax.GetMessage())
		}
		return Node{}, f.errorAt(1, 1, "not YAML: %v", err)
	}
	docs := doc.Docs[:0:0]
	for _, d := range doc.Docs {
		if d.Body != nil && d.Body.Type() != ast.CommentType {
			docs = append(docs, d)
		}
	}
	if len(docs) == 0 {
		return Node{}, f.errorAt(1, 1, "the file is empty")
	}
	if len(docs) > 1 {
		return Node{}, Node{file: f, n: docs[1].Body}.Errorf("a second document in the file: one file, one document")
	}
	root := Node{file: f, n: docs[0].Body}
	return root, root.refuse()
}

// refuse finds what this package does not take.
func (n Node) refuse() error {
	var err error
	ast.Walk(visitor(func(a ast.Node) bool {
		switch a.Type() {
		case ast.AnchorType, ast.AliasType, ast.MergeKeyType:
			err = n.sub(a).Errorf("anchors and aliases are not taken here: write the value out")
		case ast.TagType:
			err = n.sub(a).Errorf("tags are not taken here: write the plain value")
		}
		return err == nil
	}), n.n)
	return err
}

type visitor func(ast.Node) bool

func (v visitor) Visit(n ast.Node) ast.Visitor {
	if v(n) {
		return v
	}
	return nil
}

func (f *file) errorAt(line, column int, format string, args ...any) *Error {
	e := &Error{Path: f.path, Line: line, Column: column, Message: fmt.Sprintf(format, args...)}
	if line >= 1 && line <= len(f.lines) {
		e.Source = f.lines[line-1]
	}
	return e
}

// tok is where the node begins; of a mapping that is its first key.
func (n Node) tok() *token.Token {
	switch v := n.n.(type) {
	case *ast.MappingNode:
		if !v.IsFlowStyle && len(v.Values) > 0 {
			return v.Values[0].Key.GetToken()
		}
	case *ast.MappingValueNode:
		return v.Key.GetToken()
	case *ast.SequenceNode:
		return v.Start
	}
	return n.n.GetToken()
}

// Errorf makes an error that points at the node.
func (n Node) Errorf(format string, args ...any) *Error { return n.Place().Errorf(format, args...) }

// Valid reports whether there is a node.
func (n Node) Valid() bool { return n.n != nil }

// Path is the file's path as it was given to Read.
func (n Node) Path() string { return n.file.path }

// Line is where the node begins, from 1.
func (n Node) Line() int { return n.tok().Position.Line }

// IsMap tells a mapping, as IsList and IsNull tell others; what is none of these is a scalar.
func (n Node) IsMap() bool {
	t := n.n.Type()
	return t == ast.MappingType || t == ast.MappingValueType
}

// IsList reports whether the node is a sequence.
func (n Node) IsList() bool { return n.n.Type() == ast.SequenceType }

// IsNull reports whether nothing is written, or null.
func (n Node) IsNull() bool { return n.n.Type() == ast.NullType }

// Map returns a mapping's entries in the order of the file. A key that stands twice is an error.
func (n Node) Map() ([]Pair, error) {
	var values []*ast.MappingValueNode
	switch v := n.n.(type) {
	case *ast.MappingNode:
		values = v.Values
	case *ast.MappingValueNode:
		values = []*ast.MappingValueNode{v}
	default:
		return nil, n.Errorf("expected names with values (name: value), found %s", n.what())
	}
	seen := map[string]int{}
	var pairs []Pair
	for _, v := range values {
		p := Pair{n.sub(v.Key), n.sub(v.Value)}
		key := p.Key.Text()
		if line, twice := seen[key]; twice {
			return nil, p.Key.Errorf("%q stands here a second time: the first is on line %d", key, line)
		}
		seen[key] = p.Key.Line()
		pairs = append(pairs, p)
	}
	return pairs, nil
}

// List returns a sequence's items.
func (n Node) List() ([]Node, error) {
	s, ok := n.n.(*ast.SequenceNode)
	if !ok {
		return nil, n.Errorf("expected a list, found %s", n.what())
	}
	var items []Node
	for _, v := range s.Values {
		items = append(items, n.sub(v))
	}
	return items, nil
}

// Text is a scalar as it is written, without its quotes; "" for anything else.
func (n Node) Text() string {
	switch v := n.n.(type) {
	case *ast.LiteralNode:
		return n.replace(v.Value.Value)
	case *ast.MappingNode, *ast.MappingValueNode, *ast.SequenceNode, *ast.NullNode:
		return ""
	}
	return n.replace(n.n.GetToken().Value)
}

// Scalar is Text, and an error for anything but a scalar.
func (n Node) Scalar() (string, error) {
	if n.IsMap() || n.IsList() || n.IsNull() {
		return "", n.Errorf("expected a single value, found %s", n.what())
	}
	return n.Text(), nil
}

func (n Node) what() string {
	switch {
	case n.IsMap():
		return "names with values"
	case n.IsList():
		return "a list"
	case n.IsNull():
		return "nothing"
	}
	return fmt.Sprintf("%q", n.Text())
}
