package workbench

import "fmt"

// A Remark is something to know beside a result: a face says it apart from the
// result, and a page may draw a warning otherwise. Inputs and verbs in it are
// marked as package remedy describes.
type Remark struct {
	Text    string
	Warning bool
}

// Remarks are what a verb has to say beside its result. They are no part of
// its JSON.
type Remarks []Remark

func (r *Remarks) say(format string, a ...any) {
	*r = append(*r, Remark{Text: fmt.Sprintf(format, a...)})
}

func (r *Remarks) warn(format string, a ...any) {
	*r = append(*r, Remark{Text: fmt.Sprintf(format, a...), Warning: true})
}
