package readings

import (
	"fmt"
	"slices"
	"strings"
)

// Words for the two things that a comparison holds against each other. Common
// practice, no source.
var roleWords = map[string]string{"standard": "standard", "std": "standard", "std.": "standard", "target": "standard", "master": "standard", "reference": "standard",
	"trial": "trial", "sample": "trial", "smp": "trial", "smp.": "trial", "batch": "trial", "specimen": "trial"}

// role tells whether a record is of a standard or a trial, empty where nothing
// says so.
func (s *sheet) role(pl *plan, i int) string {
	if s.roles != nil && s.roles[i] != "" {
		return roleWords[normalHeader(s.roles[i])]
	}
	if at, ok := pl.where[roleColumn]; ok && at < len(s.records[i].cells) {
		return roleWords[normalHeader(s.records[i].cells[at])]
	}
	if at, ok := pl.where[standardColumn]; ok && at < len(s.records[i].cells) && s.records[i].cells[at] != "" {
		if name := pl.nameIn(s.records[i]); name == "" || name == notRead {
			return "standard"
		}
		return "trial"
	}
	return ""
}

// trialIDs are headers of numbers that name what is compared with a standard.
var trialIDs = map[string]bool{"sampleid": true, "chipid": true, "trialid": true}

// sideWords say in the header of a reading whether it is that of the standard or
// of the trial of its row. Common practice, no source.
var sideWords = map[string]string{"STD": "standard", "STANDARD": "standard", "TRIAL": "trial", "SAMPLE": "trial", "SMP": "trial", "SPL": "trial"}

// splitStandards makes a record of its own of each standard whose readings stand
// in columns beside those of its trials.
func (s *sheet) splitStandards(o *Options) {
	columns := make([]column, len(s.header))
	standard, trial := -1, -1
	for i, h := range s.header {
		columns[i] = understand(h, o)
		switch r := columns[i].role; {
		case r == standardColumn:
			standard = i
		case r == nameColumn, r == sampleColumn, r == idColumn && trialIDs[normalHeader(h)]:
			trial = i
		}
	}
	if standard < 0 || trial < 0 {
		return
	}
	like := map[column]int{} // columns of what is compared, without their headers
	bare := func(c column) column { c.header, c.set.of = "", ""; return c }
	for i, c := range columns {
		if (c.role == labColumn || c.role == bandColumn) && c.set.of != "standard" {
			like[bare(c)] = i
		}
	}
	from := map[int]int{} // the standard's column, by the trial's
	for i, c := range columns {
		if at, ok := like[bare(c)]; ok && c.set.of == "standard" {
			from[at] = i
		}
	}
	if len(from) == 0 {
		return
	}
	seen := map[string]bool{}
	var out []record
	for _, r := range s.records {
		cells := slices.Clone(r.cells)
		key := ""
		for at, i := range from {
			if at < len(cells) && i < len(cells) {
				cells[at] = r.cells[i]
			}
		}
		for at := range s.header {
			if _, ok := from[at]; ok && at < len(cells) {
				key += cells[at] + "\x00"
			}
		}
		if trial < len(cells) && standard < len(cells) {
			cells[trial] = ""
			key += cells[standard]
			if !seen[key] && cells[standard] != "" {
				seen[key] = true
				out = append(out, record{r.line, cells})
			}
		}
		out = append(out, r)
	}
	s.records = out
	for _, i := range from {
		s.header[i] = "" // its readings have moved
		for _, r := range s.records {
			if i < len(r.cells) {
				r.cells[i] = ""
			}
		}
	}
	s.notes = append(s.notes, "a standard's readings beside those of its trials are a reading of its own")
}

// tellApart names a standard and a trial of one name, and trials of one name of
// several standards, so that they stay two pieces.
func (s *sheet) tellApart(pl *plan, p *problems) {
	at, compared := pl.where[standardColumn]
	standards, said := make([]string, len(s.records)), make([]string, len(s.records))
	roles := map[string][]string{}
	of := map[string][]string{}
	for i, r := range s.records {
		role, name := s.role(pl, i), pl.nameIn(r)
		said[i] = role
		if compared && at < len(r.cells) {
			standards[i] = r.cells[at]
			if role == "standard" {
				if name == "" || name == notRead {
					name = standards[i]
					r.cells[pl.where[nameColumn]] = name
				}
			} else if !slices.Contains(of[name], standards[i]) {
				of[name] = append(of[name], standards[i])
			}
		}
		if role != "" && !slices.Contains(roles[name], role) {
			roles[name] = append(roles[name], role)
		}
	}
	var both, several []string
	own := map[string]int{} // line of a trial that bears the name of its standard
	for i, r := range s.records {
		role, name := said[i], pl.nameIn(r)
		if compared && name == standards[i] && name != "" && len(roles[name]) == 1 && !pl.has(roleColumn) {
			if line, twice := own[name]; twice {
				p.add(r.line, name, "", fmt.Sprintf("has the name of its standard, as row %d has, so that either may be the standard", line), "leave "+oneLine(s.header[pl.where[nameColumn]], 40)+" empty where the standard was read, or give the trials other names")
				continue
			}
			own[name] = r.line
		}
		if role != "standard" && len(of[name]) > 1 {
			if !slices.Contains(several, name) {
				several = append(several, name)
			}
			r.cells[pl.where[nameColumn]] = name + " (of " + standards[i] + ")"
			continue
		}
		if len(roles[name]) < 2 {
			continue
		}
		if !slices.Contains(both, name) {
			both = append(both, name)
		}
		if role != "" {
			r.cells[pl.where[nameColumn]] = name + " (" + role + ")"
		}
	}
	if len(both) > 0 {
		s.notes = append(s.notes, "a standard and a trial of one name are two pieces: "+oneLine(strings.Join(both, ", "), 200))
	}
	if len(several) > 0 {
		s.notes = append(s.notes, "trials of one name and several standards are as many pieces: "+oneLine(strings.Join(several, ", "), 200))
	}
}
