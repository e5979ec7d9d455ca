package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// A mutant is one change of a source file: the bytes from one offset to another become text.
type mutant struct {
	file     string
	src      []byte // as it was when it was listed
	pkg      string // the folder whose tests are asked
	line     int
	from, to int
	text     string
	says     string
}

// swaps are the operators and what each becomes: the neighbours that a slip of the pen makes.
var swaps = map[token.Token]string{
	token.EQL: "!=", token.NEQ: "==", token.LSS: "<=", token.LEQ: "<", token.GTR: ">=", token.GEQ: ">",
	token.LAND: "||", token.LOR: "&&", token.ADD: "-", token.SUB: "+", token.MUL: "/", token.QUO: "*",
	token.AND: "|", token.OR: "&", token.SHL: ">>", token.SHR: "<<", token.REM: "*",
	token.ADD_ASSIGN: "-=", token.SUB_ASSIGN: "+=", token.INC: "--", token.DEC: "++",
	token.BREAK: "continue", token.CONTINUE: "break",
}

// mutants lists every mutant of a folder's Go files, tests aside.
func mutants(dir string) ([]mutant, error) {
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	var out []mutant
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		src, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		if strings.Contains(string(src), "//go:build") {
			continue // built elsewhere, or with a camera
		}
		list, err := ofFile(file, src)
		if err != nil {
			return nil, err
		}
		for i := range list {
			list[i].pkg = "./" + filepath.ToSlash(dir)
		}
		out = append(out, list...)
	}
	return out, nil
}

func ofFile(file string, src []byte) ([]mutant, error) {
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, file, src, 0)
	if err != nil {
		return nil, err
	}
	var out []mutant
	text := map[ast.Expr]bool{} // sums that join strings have no difference
	add := func(at token.Pos, old, now string) {
		p := set.Position(at)
		out = append(out, mutant{file: file, src: src, line: p.Line, from: p.Offset, to: p.Offset + len(old), text: now, says: fmt.Sprintf("%s to %s", old, now)})
	}
	ast.Inspect(tree, func(n ast.Node) bool {
		switch e := n.(type) {
		case *ast.BinaryExpr:
			if e.Op == token.ADD && (text[e] || isText(e.X) || isText(e.Y)) {
				text[e.X], text[e.Y] = true, true
				break
			}
			if now, ok := swaps[e.Op]; ok {
				add(e.OpPos, e.Op.String(), now)
			}
		case *ast.AssignStmt:
			if now, ok := swaps[e.Tok]; ok && !slices.ContainsFunc(e.Rhs, isText) {
				add(e.TokPos, e.Tok.String(), now)
			}
		case *ast.IncDecStmt:
			add(e.TokPos, e.Tok.String(), swaps[e.Tok])
		case *ast.BranchStmt:
			if now, ok := swaps[e.Tok]; ok && e.Label == nil {
				add(e.TokPos, e.Tok.String(), now)
			}
		case *ast.UnaryExpr:
			if e.Op == token.NOT {
				add(e.OpPos, "!", "")
			}
		case *ast.BasicLit:
			if v, err := strconv.Atoi(e.Value); e.Kind == token.INT && err == nil {
				add(e.Pos(), e.Value, strconv.Itoa(v+1))
			}
		}
		return true
	})
	return out, nil
}

func isText(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.BasicLit:
		return e.Kind == token.STRING
	case *ast.BinaryExpr:
		return isText(e.X) || isText(e.Y)
	}
	return false
}
