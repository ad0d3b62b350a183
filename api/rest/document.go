package rest

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"html/template"
	"net/http"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/labstack/echo/v4"
)

//go:embed reference.html
var referenceHTML string

//go:embed reference.css
var referenceCSS []byte

// mountDocument adds the OpenAPI document and the reference page, which anybody
// may read: both say only what this program's source says.
func mountDocument(g *echo.Group, doc *huma.OpenAPI) error {
	compact, err := doc.MarshalJSON()
	if err != nil {
		return err
	}
	var indented bytes.Buffer
	if err := json.Indent(&indented, compact, "", "  "); err != nil {
		return err
	}

	yaml, err := doc.YAML()
	if err != nil {
		return err
	}

	page, err := reference(doc)
	if err != nil {
		return err
	}

	for path, file := range map[string]struct {
		kind string
		body []byte
	}{
		"/openapi.json": {"application/vnd.oai.openapi+json", append(indented.Bytes(), '\n')},
		"/openapi.yaml": {"application/vnd.oai.openapi", yaml},
		"/docs":         {echo.MIMETextHTMLCharsetUTF8, page},
		"/docs.css":     {"text/css; charset=utf-8", referenceCSS},
	} {
		g.GET(path, func(c echo.Context) error {
			c.Response().Header().Set("Cache-Control", "no-cache")
			return c.Blob(http.StatusOK, file.kind, file.body)
		})
	}

	return nil
}

// reference renders the document as one plain page.
func reference(doc *huma.OpenAPI) ([]byte, error) {
	t, err := template.New("reference").Parse(referenceHTML)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = t.Execute(&b, struct {
		Title, Version, Intro, Prefix string
		Groups                        []referenceGroup
		Schemas                       []referenceSchema
	}{doc.Info.Title, doc.Info.Version, doc.Info.Description, Prefix, groupsOf(doc), schemasOf(doc)})
	return b.Bytes(), err
}

type referenceGroup struct {
	Name string
	Ops  []referenceOp
}

type referenceOp struct {
	Anchor, Method, Path, Summary, Description string
	Params                                     []referenceField
	Body, Answer                               referenceType
}

type referenceSchema struct {
	Name, Description string
	Fields            []referenceField
	Type              referenceType
}

type referenceField struct {
	Name, Where, Description string
	Type                     referenceType
	Required, ReadOnly       bool
}

// referenceType is a type in words, and the schema it links to, if any.
type referenceType struct{ Text, Link string }

func groupsOf(doc *huma.OpenAPI) []referenceGroup {
	var groups []referenceGroup
	paths := make([]string, 0, len(doc.Paths))
	for path := range doc.Paths {
		paths = append(paths, path)
	}

	slices.Sort(paths)

	for _, path := range paths {
		item := doc.Paths[path]
		for _, o := range []*huma.Operation{item.Get, item.Post, item.Put, item.Delete} {
			if o == nil {
				continue
			}
			i := slices.IndexFunc(groups, func(g referenceGroup) bool { return g.Name == o.Tags[0] })
			if i < 0 {
				i, groups = len(groups), append(groups, referenceGroup{Name: o.Tags[0]})
			}
			groups[i].Ops = append(groups[i].Ops, opOf(o))
		}
	}

	slices.SortStableFunc(groups, func(a, b referenceGroup) int { return strings.Compare(a.Name, b.Name) })
	return groups
}

func opOf(o *huma.Operation) referenceOp {
	r := referenceOp{
		Anchor:      o.OperationID,
		Method:      o.Method,
		Path:        o.Path,
		Summary:     o.Summary,
		Description: o.Description,
	}

	for _, p := range o.Parameters {
		r.Params = append(
			r.Params,
			referenceField{
				Name:        p.Name,
				Where:       p.In,
				Description: p.Description,
				Type:        typeOf(p.Schema),
				Required:    p.Required,
			},
		)
	}

	if o.RequestBody != nil {
		if m := o.RequestBody.Content["application/json"]; m != nil {
			r.Body = typeOf(m.Schema)
		}
	}

	for status, answer := range o.Responses {
		if m := answer.Content["application/json"]; m != nil && strings.HasPrefix(status, "2") {
			r.Answer = typeOf(m.Schema)
		}
	}

	return r
}

func schemasOf(doc *huma.OpenAPI) []referenceSchema {
	all := doc.Components.Schemas.Map()

	var out []referenceSchema
	for name, s := range all {
		r := referenceSchema{Name: name, Description: s.Description, Type: typeOf(s)}
		for field, fs := range s.Properties {
			r.Fields = append(r.Fields, referenceField{Name: field, Description: fs.Description, Type: typeOf(fs),
				Required: slices.Contains(s.Required, field) && !fs.ReadOnly, ReadOnly: fs.ReadOnly})
		}
		slices.SortFunc(r.Fields, func(a, b referenceField) int { return strings.Compare(a.Name, b.Name) })
		out = append(out, r)
	}

	slices.SortFunc(out, func(a, b referenceSchema) int { return strings.Compare(a.Name, b.Name) })
	return out
}

func typeOf(s *huma.Schema) referenceType {
	switch {
	case s == nil:
		return referenceType{}
	case s.Ref != "":
		name := s.Ref[strings.LastIndex(s.Ref, "/")+1:]
		return referenceType{name, name}
	case s.Items != nil:
		t := typeOf(s.Items)
		return referenceType{"list of " + t.Text, t.Link}
	case len(s.AnyOf) > 0:
		names := make([]string, 0, len(s.AnyOf))
		for _, one := range s.AnyOf {
			names = append(names, typeOf(one).Text)
		}
		return referenceType{Text: "any of " + strings.Join(names, ", ")}
	case len(s.Enum) > 0:
		words := make([]string, 0, len(s.Enum))
		for _, w := range s.Enum {
			if text, ok := w.(string); ok {
				words = append(words, text)
			}
		}
		return referenceType{Text: strings.Join(words, " | ")}
	case s.Format != "" && s.Type == huma.TypeString:
		return referenceType{Text: s.Format}
	case s.Type == "":
		return referenceType{Text: "any JSON"}
	}

	return referenceType{Text: s.Type}
}
