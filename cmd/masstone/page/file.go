package page

import (
	"cmp"
	"net/http"

	"masstone/cmd/masstone/typed"
	"masstone/recipes/archive"
	"masstone/recipes/workbench"
)

// errGone is a result that is not kept any more.
var errGone = refusal{http.StatusGone, "this is not kept any more: the program was started anew, or much was done since; do it again"}

func fileForm() form {
	return newForm("An instrument's file", "/file", "Look at the file",
		field{Name: "file", Label: "File of readings (CSV, XLSX, ODS, exchange text, CxF)", Kind: fileField, Need: true})
}

func (s *Server) filePages() {
	s.get("/file", func(*ask) (view, error) { return view{"alone", "An instrument's file", fileForm()}, nil })
	s.post("/file", action{func(*ask) (form, error) { return fileForm(), nil }, func(q *ask) (string, error) {
		u, err := q.upload("file")
		if err == nil && u == nil {
			err = q.missing("file", "choose a file of readings")
		}
		if err != nil {
			return "", err
		}
		return "/file/" + s.files.put(*u), nil
	}})
	s.get("/file/{id}", func(q *ask) (view, error) {
		u, is := result[upload](s.files, q.PathValue("id"))
		if !is {
			return view{}, errGone
		}
		v := struct {
			workbench.CheckedFile
			Name       string
			Wrong      []string
			Look, Take form
			Would      *workbench.ImportedChips
		}{Name: u.Name}
		look, take, err := q.fileForms(q.PathValue("id"))
		if err != nil {
			return view{}, err
		}
		look.retyped(q)
		v.Look, v.Take = look, take
		v.Take.retyped(q)
		f := q.file(&u)
		if err := q.fault(); err != nil {
			return view{}, err
		}
		if v.CheckedFile, err = workbench.CheckFile(q.Context(), q.bench, workbench.CheckFileRequest{File: f}); err != nil {
			v.Wrong = worded(err)
		} else if v.Kind == "chips" || v.Kind == "mixtures" {
			r := q.importChips(u)
			r.Preview = true
			would, err := workbench.ImportChips(q.Context(), q.bench, r)
			if err != nil {
				v.Wrong = worded(err)
			} else {
				v.Would = &would
			}
		}
		return view{"file", "What the file holds", v}, nil
	})
	s.post("/file/{id}/chips", action{func(q *ask) (form, error) {
		_, take, err := q.fileForms(q.PathValue("id"))
		return take, err
	}, func(q *ask) (string, error) {
		u, is := result[upload](s.files, q.PathValue("id"))
		if !is {
			return "", errGone
		}
		r := q.importChips(u)
		if err := q.fault(); err != nil {
			return "", err
		}
		v, err := workbench.ImportChips(q.Context(), q.bench, r)
		return path("/chips", "resin", v.Resin), err
	}})
}

func (q *ask) importChips(u upload) workbench.ImportChipsRequest {
	return workbench.ImportChipsRequest{Resin: q.text("resin"), Chips: q.file(&u), ChipGrams: q.grams("chip-grams"), ScaleGrams: q.grams("scale"), ThicknessSDMM: q.optional("thickness-sd-mm", typed.Miss), Replace: q.tick("replace")}
}

// fileForms are what a file cannot say of itself, to look again or to take it in.
func (q *ask) fileForms(id string) (look, take form, err error) {
	choose, _, err := q.resins()
	if err != nil {
		return look, take, err
	}
	over := q.backings("")
	over.Choices = append([]choice{{"", "as the file says"}}, over.Choices...)
	step := cmp.Or(known(q.inUse(archive.Scale).StepGrams), 0.01)
	fields := func() []field {
		return []field{choose, number("chip-grams", "Mixed resin in the cup", "g", 50.0), number("scale", "Step of the scale", "g", step),
			over, number("thickness", "Thickness", "mm", 0.0), text("illuminant", "Light and observer", "").help("of plain L,a,b, such as D65/10"),
			pick("specular", "Specular reflection", "", choice{"", "as the file says"}, choice{"included", "included"}, choice{"excluded", "excluded"}).more(),
			number("aperture-mm", "Aperture, its diameter", "mm", 0.0).help("where the file does not say it").more(),
			text("thickness-sd-mm", "How far the thickness may miss, mm", "").help("0.09 mm, of less than 3 mm 3 %, if empty").more(),
			text("m-condition", "Measurement condition", "").help("M0 to M3, where the file has several").more(),
			text("sheet", "Worksheet", "").more(), tick("repeats", "Rows of one name are readings of one piece").more()}
	}
	look = looking("How to read it", "/file/"+id, "Look again", fields()...)
	take = newForm("Take in the chips", "/file/"+id+"/chips", "Store the chips", append(fields(), tick("replace", "Replace what is there"))...)
	return look, take, nil
}
