package readings_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// makers are the functions that report a refusal, with the place of its problem
// among their arguments.
var makers = map[string]int{"add": 3, "whole": 0, "unknown": -1, "miss": 0, "doubt": 1, "contradict": -1}

// badAt is where the functions called bad have it, by their number of arguments.
var badAt = map[int]int{1: 0, 2: 0, 3: 1}

// telling are functions that give a problem back.
var telling = []string{"number", "impossible", "lab", "grid", "condition", "otherPiece", "westernXML", "honest", "cellCondition", "odsContent"}

// elsewhere are words that no case has: warnings, whose tests are in
// sanity_test.go and pieces_test.go, hints, hostile workbooks, which are in
// xlsx_test.go, and what no file alone brings about.
var elsewhere = regexp.MustCompile(`^(its .* lie|reading .* of|spectrum .* of|was poured|readings of geometry|export it again|say |add |check |has a (tag|text)|has too many parts|has more cells or parts|unpacks to|is written in UTF-16|\.\*: cannot be read|has more rows than a worksheet|row cannot|worksheet cannot|other bands than)`)

// refusalTexts finds the words of every refusal in the source, as patterns.
func refusalTexts(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	files, err := parser.ParseDir(token.NewFileSet(), ".", func(f os.FileInfo) bool { return !strings.HasSuffix(f.Name(), "_test.go") }, 0)
	require.NoError(t, err)
	for _, p := range files {
		for name, f := range p.Files {
			ast.Inspect(f, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.FuncDecl:
					if slices.Contains(telling, n.Name.Name) {
						ast.Inspect(n, func(n ast.Node) bool {
							if r, ok := n.(*ast.ReturnStmt); ok {
								for _, e := range r.Results {
									note(out, name, e)
								}
							}
							return true
						})
					}
				case *ast.CompositeLit:
					if id, ok := n.Type.(*ast.Ident); !ok || id.Name != "RowError" {
						return true
					}
					for _, e := range n.Elts {
						if kv, ok := e.(*ast.KeyValueExpr); ok && kv.Key.(*ast.Ident).Name == "Problem" {
							note(out, name, kv.Value)
						}
					}
				case *ast.CallExpr:
					called := ""
					switch f := n.Fun.(type) {
					case *ast.Ident:
						called = f.Name
					case *ast.SelectorExpr:
						called = f.Sel.Name
					}
					at, ok := makers[called]
					if called == "bad" {
						at, ok = badAt[len(n.Args)]
					}
					if called == "New" || called == "Errorf" {
						at, ok = 0, !strings.HasPrefix(name, "write")
					}
					if ok && at >= 0 && at < len(n.Args) {
						note(out, name, n.Args[at])
					}
				}
				return true
			})
		}
	}
	return out
}

var verbs = regexp.MustCompile(`%[.0-9]*[a-z]`)

// note keeps the words of an expression, with .* for what it puts between them.
func note(out map[string]string, file string, e ast.Expr) {
	var parts []string
	ast.Inspect(e, func(n ast.Node) bool {
		if _, ok := n.(*ast.CompositeLit); ok {
			parts = append(parts, "")
			return false
		}
		if call, ok := n.(*ast.CallExpr); ok {
			if f, ok := call.Fun.(*ast.SelectorExpr); !ok || f.Sel.Name != "Sprintf" && f.Sel.Name != "New" && f.Sel.Name != "Errorf" {
				return false // words of another function
			}
		}
		if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
			text, err := strconv.Unquote(lit.Value)
			if err == nil && strings.TrimSpace(text) != "" {
				for _, part := range verbs.Split(text, -1) {
					parts = append(parts, regexp.QuoteMeta(part))
				}
			}
		}
		return true
	})
	if text := strings.Join(parts, ".*"); !elsewhere.MatchString(text) && len(strings.Trim(text, ".* ")) > 6 {
		out[text] = file
	}
}

// TestEveryRefusalIsInTheTable: who writes a new refusal shows in the table what
// a person reads, and that the remedy it names works.
func TestEveryRefusalIsInTheTable(t *testing.T) {
	var lines []string
	for _, c := range refusals(t) {
		lines = append(lines, c.line)
	}
	all := strings.Join(lines, "\n")
	texts := refusalTexts(t)
	assert.Greater(t, len(texts), 100, "the source is searched")
	for _, text := range slices.Sorted(maps.Keys(texts)) {
		if !regexp.MustCompile(text).MatchString(all) {
			t.Errorf("%s: no case of %q", texts[text], text)
		}
	}
}
