package main

import (
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The order of the stages: what each package of the program may import beside
// the standard library. A name that ends in / stands for all below it.
var mayImport = map[string][]string{
	"masstone/color":              {"github.com/lucasb-eyer/go-colorful"},
	"masstone/color/remedy":       {},
	"masstone/color/cell":         {},
	"masstone/color/legible":      {},
	"masstone/color/readings":     {"masstone/color", "masstone/color/cell", "masstone/color/remedy", "github.com/xuri/excelize/", "golang.org/x/text/"},
	"masstone/calibrate/minimize": {"gonum.org/"},
	"masstone/calibrate/layer":    {"masstone/color", "gonum.org/"},
	"masstone/calibrate":          {"masstone/color", "masstone/calibrate/layer", "masstone/calibrate/minimize", "gonum.org/", "golang.org/x/sync/"},
	"masstone/calibrate/castplan": {"masstone/color", "masstone/calibrate", "gonum.org/", "golang.org/x/sync/"},
	"masstone/calibrate/gamut":    {"masstone/color", "masstone/calibrate"},
	"masstone/calibrate/charts":   {"masstone/color", "masstone/color/cell", "masstone/calibrate", "masstone/calibrate/gamut", "gonum.org/", "golang.org/x/image/"},
	"masstone/recipes":            {"masstone/color", "masstone/calibrate", "gonum.org/", "golang.org/x/sync/"},
	"masstone/recipes/batch":      {"masstone/recipes", "masstone/calibrate"},
	"masstone/recipes/ageing":     {},
	"masstone/recipes/control":    {"masstone/calibrate", "gonum.org/"},
	"masstone/recipes/runchart":   {"gonum.org/"},
	"masstone/recipes/papers": {"masstone/color", "masstone/color/cell", "masstone/color/legible", "masstone/calibrate", "masstone/recipes", "masstone/recipes/batch", "masstone/recipes/papers/tagged",
		"github.com/boombuler/barcode/", "github.com/rivo/uniseg", "golang.org/x/image/", "codeberg.org/", "golang.org/x/text/"},
	"masstone/recipes/papers/tagged":    {},
	"masstone/recipes/figure":           {"masstone/color"},
	"masstone/recipes/outfile":          {"masstone/color/remedy"},
	"masstone/recipes/archive":          {"masstone/color", "masstone/color/remedy", "masstone/recipes/archive/engine", "masstone/recipes/archive/sqlite", "masstone/recipes/archive/postgres"},
	"masstone/recipes/archive/engine":   {"masstone/color/remedy", "github.com/pressly/goose/"},
	"masstone/recipes/archive/sqlite":   {"masstone/color/remedy", "masstone/recipes/outfile", "masstone/recipes/archive/engine", "modernc.org/", "github.com/pressly/goose/"},
	"masstone/recipes/archive/postgres": {"masstone/recipes/archive/engine", "github.com/jackc/pgx/", "github.com/pressly/goose/"},
	"masstone/recipes/kept":             {"masstone/color/remedy", "masstone/calibrate", "masstone/recipes", "masstone/recipes/figure"},
	"masstone/recipes/workbench": {"masstone/color", "masstone/color/readings", "masstone/color/remedy", "masstone/calibrate", "masstone/calibrate/castplan", "masstone/calibrate/charts", "masstone/calibrate/gamut", "masstone/calibrate/layer",
		"masstone/recipes", "masstone/recipes/figure", "masstone/recipes/batch", "masstone/recipes/papers", "masstone/recipes/archive", "masstone/recipes/kept", "masstone/recipes/ageing", "masstone/recipes/control", "masstone/recipes/runchart", "gonum.org/"},
}

// Packages that only tests may use.
var forTests = []string{"masstone/calibrate/virtualshop", "masstone/recipes/archive/postgres/ownserver"}

// What only the commands may see: the world outside.
var outside = []string{"os", "net/http", "flag", "log", "github.com/spf13/cobra", "github.com/spf13/pflag"}

// mayTouchFiles are the packages whose business a file is.
var mayTouchFiles = []string{"masstone/recipes/outfile", "masstone/recipes/archive/sqlite"}

// TestImportDirection holds the packages to the order of the stages: readings,
// colour, calibration, recipe, batch, archive, commands.
func TestImportDirection(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", "-f", `{{if not .Standard}}{{.ImportPath}}|{{join .Imports ","}}{{end}}`, "masstone/...").Output()
	require.NoError(t, err, "go list -deps")
	seen, used := map[string]bool{}, map[string]bool{}
	for line := range strings.Lines(string(out)) {
		pkg, list, found := strings.Cut(strings.TrimSpace(line), "|")
		if !found || pkg != "masstone" && !strings.HasPrefix(pkg, "masstone/") {
			continue
		}
		seen[pkg] = true
		if strings.HasPrefix(pkg, "masstone/cmd/") {
			for imported := range strings.SplitSeq(list, ",") {
				if slices.Contains(forTests, imported) {
					t.Errorf("%s imports %s, which only tests may", pkg, imported)
				}
			}
			continue // the commands may import anything else
		}
		if slices.Contains(forTests, pkg) {
			continue
		}
		allowed, listed := mayImport[pkg]
		if !listed {
			t.Errorf("%s is in no stage; add it to the table with what it may import", pkg)
			continue
		}
		for imported := range strings.SplitSeq(list, ",") {
			switch {
			case imported == "os" && slices.Contains(mayTouchFiles, pkg):
			case slices.Contains(outside, imported):
				t.Errorf("%s imports %s, which only the commands may", pkg, imported)
			case standard(imported):
			default:
				at := slices.IndexFunc(allowed, func(a string) bool {
					return imported == a || strings.HasSuffix(a, "/") && strings.HasPrefix(imported, a)
				})
				if at < 0 {
					t.Errorf("%s imports %s; it may import %s", pkg, imported, strings.Join(allowed, ", "))
					continue
				}
				used[pkg+" "+allowed[at]] = true
			}
		}
		for _, a := range allowed {
			if strings.HasPrefix(a, "masstone/") && !used[pkg+" "+a] {
				t.Errorf("%s may import %s but does not; take it out of the table", pkg, a)
			}
		}
	}
	for pkg := range mayImport {
		if !seen[pkg] {
			t.Errorf("%s is in the table but not in the program", pkg)
		}
	}
}

// standard tells whether a package is of the standard library: its first
// element has no dot, and it is not ours.
func standard(pkg string) bool {
	first, _, _ := strings.Cut(pkg, "/")
	return first != "masstone" && !strings.Contains(first, ".")
}
