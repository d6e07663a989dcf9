package workbench

import (
	"encoding"
	"encoding/json"
	"reflect"
	"strings"

	"masstone/recipes/figure"
)

// Keys lists the JSON keys of a result's type in a line, as help texts and
// pages give them. What a key means stands in the field's doc tag; an as tag
// names the result that documents a field's own keys instead of listing them.
//
//	recipes (a list of id, loadings_phr, chance (of landing within tolerance))
func Keys(result any) string {
	return strings.Join(keysOf(reflect.TypeOf(result), map[reflect.Type]bool{}), ", ")
}

// opaque are types that are a value to a reader although they have fields.
var opaque = map[reflect.Type]string{
	reflect.TypeFor[figure.Lab](): "L, a, b",
}

// asText and asJSON are what a type that is a value to a reader says of itself.
var (
	asText = reflect.TypeFor[encoding.TextMarshaler]()
	asJSON = reflect.TypeFor[json.Marshaler]()
)

func keysOf(t reflect.Type, within map[reflect.Type]bool) []string {
	t = element(t)
	if t.Kind() != reflect.Struct || within[t] || t.Implements(asText) || t.Implements(asJSON) {
		return nil
	}
	within[t] = true
	defer delete(within, t)
	var out []string
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "-" || !f.IsExported() && !f.Anonymous {
			continue
		}
		if f.Anonymous && name == "" {
			out = append(out, keysOf(f.Type, within)...)
			continue
		}
		if name == "" {
			name = f.Name
		}
		out = append(out, strings.TrimSpace(name+" "+meaning(f, within)))
	}
	return out
}

// meaning is what stands in parentheses after a key.
func meaning(f reflect.StructField, within map[reflect.Type]bool) string {
	inner := element(f.Type)
	var parts []string
	if doc := f.Tag.Get("doc"); doc != "" {
		parts = append(parts, doc)
	}
	list := ""
	for t := f.Type; t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice; t = t.Elem() {
		if t.Kind() == reflect.Slice {
			list = "a list of "
		}
	}
	if as := f.Tag.Get("as"); as != "" {
		if list != "" {
			list = "a list "
		}
		parts = append(parts, list+`with the keys of "`+as+`"`)
	} else if opaque[inner] == "" {
		if keys := keysOf(inner, within); len(keys) > 0 {
			parts = append(parts, list+strings.Join(keys, ", "))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "(" + strings.Join(parts, ": ") + ")"
}

// element is what pointers, lists and maps of a type hold.
func element(t reflect.Type) reflect.Type {
	for {
		switch t.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Map:
			t = t.Elem()
		default:
			return t
		}
	}
}
