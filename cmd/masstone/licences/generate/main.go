// Command generate gathers the licences of what is compiled into the program, for
// every system that is released, from the module cache into gathered.json beside
// the package. Run it from the module's top folder after a dependency changed.
package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io/fs"
	"log"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"

	"github.com/google/licensecheck"

	"masstone/cmd/masstone/licences"
)

const out = "cmd/masstone/licences/gathered.json"

// terms are names of files that hold licences or notices.
var terms = regexp.MustCompile(`(?i)^((un)?licen[sc]e|copying|notice|patents|ofl)|licen[sc]e(\.(txt|md))?$`)

func main() {
	log.SetFlags(0)
	used, err := compiled()
	if err != nil {
		log.Fatal(err)
	}
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		log.Fatal(err)
	}
	all := []licences.Module{gather("go", runtime.Version(), strings.TrimSpace(string(goroot)), nil)}
	for _, path := range slices.Sorted(maps.Keys(used)) {
		c := used[path]
		all = append(all, gather(path, c.version, c.dir, c.packages))
	}
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(all); err != nil {
		log.Fatal(err)
	}
	if err := os.WriteFile(out, text.Bytes(), 0o644); err != nil {
		log.Fatal(err)
	}
}

// gather reads the texts that stand in a module's top folder, in a folder named
// for licences, and in the folders of the packages in use and those above them.
func gather(path, version, dir string, packages []string) licences.Module {
	m := licences.Module{Module: path, Version: version, Licences: []string{}}
	looked := map[string]bool{}
	look := func(folder string) {
		if looked[folder] {
			return
		}
		looked[folder] = true
		entries, err := os.ReadDir(folder)
		if err != nil {
			log.Fatal(err)
		}
		for _, e := range entries {
			full := filepath.Join(folder, e.Name())
			switch {
			case e.IsDir() && strings.Contains(strings.ToLower(e.Name()), "licenses"):
				filepath.WalkDir(full, func(p string, d fs.DirEntry, err error) error {
					if err == nil && !d.IsDir() {
						m.Texts = append(m.Texts, text(dir, p))
					}
					return err
				})
			case !e.IsDir() && terms.MatchString(e.Name()) && !strings.HasSuffix(e.Name(), ".go"):
				m.Texts = append(m.Texts, text(dir, full))
			}
		}
	}
	look(dir)
	for _, p := range packages {
		for ; len(p) > len(dir); p = filepath.Dir(p) {
			look(p)
		}
	}
	if len(m.Texts) == 0 {
		log.Fatalf("%s %s: no licence in %s", path, version, dir)
	}
	for _, t := range m.Texts {
		for _, found := range licensecheck.Scan([]byte(t.Text)).Match {
			if !slices.Contains(m.Licences, found.ID) && !found.IsURL {
				m.Licences = append(m.Licences, found.ID)
			}
		}
	}
	slices.Sort(m.Licences)
	fmt.Printf("%-50s %s\n", path, strings.Join(m.Licences, ", "))
	return m
}

func text(dir, file string) licences.Text {
	b, err := os.ReadFile(file)
	if err != nil {
		log.Fatal(err)
	}
	name, err := filepath.Rel(dir, file)
	if err != nil {
		log.Fatal(err)
	}
	return licences.Text{File: filepath.ToSlash(name), Text: string(b)}
}
