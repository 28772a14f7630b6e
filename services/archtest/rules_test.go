package archtest

import (
	"go/ast"
	"go/token"
	"slices"
	"strings"
)

// rule is one sentence of the design and how a file breaks it.
type rule struct {
	name    string
	applies func(source) bool
	broken  func(source) []string
}

// Packages that only tests import.
var testKits = []string{
	"services/kit/browsertest", "services/kit/pgtest", "services/kit/feedtest", "services/kit/rpctest", "services/kit/published", "services/e2e",
	"gateway/internal/gatetest",
}

// pages are joined where this folder's own files are; its folders are the rooms and the site.
const pages = "gateway/internal/web"

// What would bring the outside world, or another moment's answer, into a rule of the trade.
var outside = []string{"context", "os", "net", "database", "log", "syscall", "io/ioutil", "testing", "math/rand", "runtime"}

var rules = []rule{
	{
		"a domain imports the standard library without I/O, quantity, check digits, the calendar and UUIDs as values",
		func(s source) bool { return s.in("services/*/internal/domain") && !s.test() },
		func(s source) []string { return pick(s.imports, func(i string) bool { return !domainMay(s, i) }) },
	},
	{
		"rooms lean inwards: rpc and project on app, app on domain, store on what app declares",
		func(s source) bool { return room(s.path) != "" && !s.test() },
		func(s source) []string {
			return pick(s.ours(), func(i string) bool { return room(i) != "" && !slices.Contains(leansOn[room(s.path)], room(i)) })
		},
	},
	{
		"kit imports nothing of this repository but kit and the migrations",
		func(s source) bool { return s.in("services/kit") },
		func(s source) []string { return pick(s.ours(), func(i string) bool { return !shared(s, i) }) },
	},
	{
		"no service imports another, the gateway or a script",
		func(s source) bool { return s.service() != "" },
		func(s source) []string {
			return pick(s.ours(), func(i string) bool { return serviceOf(i) != s.service() && !shared(s, i) })
		},
	},
	{
		"the gateway imports no service: it speaks to them",
		func(s source) bool { return s.in("gateway") && !s.test() },
		func(s source) []string { return pick(s.ours(), func(i string) bool { return serviceOf(i) != "" }) },
	},
	{
		"a room of the pages leans on the site, the site on no room",
		func(s source) bool { return s.in("gateway/internal/web/*") && !s.test() },
		func(s source) []string {
			return pick(s.ours(), func(i string) bool {
				own := s.dir()
				return under(i, pages) && i != own && (own == pages+"/site" || i != pages+"/site")
			})
		},
	},
	{
		"status codes stay in apierr, in the packages that serve, dial and stream, and in rpc rooms",
		func(s source) bool {
			return s.in("services") && !s.test() &&
				!s.in("services/*/internal/rpc", "services/kit/apierr", "services/kit/rpcserve", "services/kit/rpcdial", "services/kit/feed") &&
				!s.in(testKits...)
		},
		func(s source) []string {
			return pick(s.imports, func(i string) bool {
				return under(i, "google.golang.org/grpc/codes") || under(i, "google.golang.org/grpc/status")
			})
		},
	},
	{
		"test kits are imported by tests alone",
		func(s source) bool { return !s.test() && !s.in(testKits...) },
		func(s source) []string {
			return pick(s.ours(), func(i string) bool { return slices.ContainsFunc(testKits, func(k string) bool { return under(i, k) }) })
		},
	},
	{
		"nothing weighed or paid is a float",
		func(s source) bool {
			return !s.test() && s.in("services/intake/internal/domain", "services/settlement/internal/domain", "services/kit/quantity", "services/kit/wire")
		},
		floats,
	},
	{
		"a command is flags, config, Run and an exit code: under 40 lines",
		func(s source) bool {
			return s.in("services/*/cmd", "gateway/cmd") && strings.HasSuffix(s.path, "/main.go")
		},
		func(s source) []string {
			if s.lines >= 40 {
				return []string{"is longer"}
			}
			return nil
		},
	},
}

func pick(all []string, bad func(string) bool) []string {
	return slices.DeleteFunc(slices.Clone(all), func(i string) bool { return !bad(i) })
}

// shared says whether any package may import the folder. Tests also take their certificates from the script that makes
// them, and weigh on the simulated scale.
func shared(s source, dir string) bool {
	return under(dir, "services/kit") || under(dir, "migrations") ||
		(under(dir, "deploy/certs") || under(dir, "deploy/scalesim")) && (s.test() || s.in(testKits...))
}

func domainMay(s source, target string) bool {
	if dir, ok := strings.CutPrefix(target, module); ok {
		return under(dir, "services/kit/quantity") || under(dir, "services/kit/checkdigit") || under(dir, "services/kit/calendar") ||
			under(dir, "services/"+s.service()+"/internal/domain")
	}
	first, _, _ := strings.Cut(target, "/")
	if strings.Contains(first, ".") {
		return target == "github.com/google/uuid"
	}
	return !slices.ContainsFunc(outside, func(o string) bool { return under(target, o) })
}

// leansOn says which rooms of its own service each room may import. The service itself wires them all.
var leansOn = map[string][]string{
	"domain":  {"domain"},
	"app":     {"app", "domain"},
	"store":   {"store", "app", "domain"},
	"rpc":     {"rpc", "app", "domain"},
	"project": {"project", "app", "domain"},
}

// room is "app" in services/intake/internal/app/close.go, and "" for every other folder.
func room(p string) string {
	names := strings.Split(p, "/")
	if serviceOf(p+"/") == "" || len(names) < 4 || names[2] != "internal" {
		return ""
	}
	if _, known := leansOn[names[3]]; !known {
		return ""
	}
	return names[3]
}

// floats finds the types, the literals, and the ways round both.
func floats(s source) []string {
	var found []string
	add := func(n ast.Node, what string) { found = append(found, what+" at "+s.fset.Position(n.Pos()).String()) }
	ast.Inspect(s.file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.Ident:
			switch n.Name {
			case "float32", "float64", "ParseFloat", "AppendFloat", "FormatFloat", "Float", "NewFloat", "Float64", "Float32":
				add(n, n.Name)
			}
		case *ast.BasicLit:
			if n.Kind == token.FLOAT {
				add(n, n.Value)
			}
		}
		return true
	})
	return found
}
