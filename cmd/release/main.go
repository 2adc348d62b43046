// Release makes the Debian package of padjig: everything in it is made from the program itself, from the files beside
// this one, and from the sources of what is linked into it. What is no fact of these - hour, folder, machine - is in
// none of it: the same program gives the same bytes.
//
//	go run ./cmd/release -program bin/padjig -version 1.2.0 -date 2026-11-30T04:00:00+00:00 -out bin
package main

import (
	"cmp"
	"context"
	"debug/elf"
	"embed"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

//go:embed deb
var texts embed.FS

func main() {
	var r release
	date := ""
	flag.StringVar(&r.program, "program", "bin/padjig", "the program, built and stamped")
	flag.StringVar(&r.runs, "runs", "", "the same program for this machine, where -program is for another")
	flag.StringVar(&r.version, "version", "", "`VERSION` of the package")
	flag.StringVar(&date, "date", "", "when what it is made of was committed (RFC 3339)")
	flag.StringVar(&r.out, "out", "bin", "the folder for the package")
	flag.Parse()
	syscall.Umask(0o022) // the modes of files are those of the package, whoever makes it
	var err error
	if r.date, err = time.Parse(time.RFC3339, date); err != nil {
		fmt.Fprintln(os.Stderr, "release: -date:", err)
		os.Exit(2)
	}
	path, err := r.make(context.Background())
	if err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
	fmt.Println(path)
}

// release is what a package is made of.
type release struct {
	program, runs, version, out string
	date                        time.Time
}

// debianNames are those of the processors that differ from ELF's.
var debianNames = map[elf.Machine]string{elf.EM_X86_64: "amd64", elf.EM_AARCH64: "arm64", elf.EM_ARM: "armhf", elf.EM_386: "i386"}

// make makes the package, and gives its path.
func (r *release) make(ctx context.Context) (string, error) {
	if r.version == "" || strings.ContainsAny(r.version, "_/ \n@") {
		return "", fmt.Errorf("-version %q is none that a package may have", r.version)
	}
	binary, err := inspected(r.program)
	if err != nil {
		return "", err
	}
	stage, err := os.MkdirTemp("", "padjig-package")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(stage)
	modules, err := linked(ctx, r.program)
	if err != nil {
		return "", err
	}
	fill := strings.NewReplacer("@VERSION@", r.version, "@STAGE@", stage, "@ARCH@", binary.arch,
		"@GLIBC@", binary.glibc, "@DATE@", r.date.UTC().Format(time.RFC3339))
	for _, step := range []func() error{
		func() error { return r.fromFiles(stage, fill) },
		func() error { return r.fromProgram(ctx, stage) },
		func() error { return r.fromModules(stage, modules) },
		func() error { return written(stage) },
	} {
		if err := step(); err != nil {
			return "", err
		}
	}
	name := fmt.Sprintf("padjig_%s_%s.deb", strings.ReplaceAll(r.version, ":", ""), binary.arch)
	path, err := filepath.Abs(filepath.Join(r.out, name))
	if err != nil {
		return "", err
	}
	pack := exec.CommandContext(ctx, "go", "tool", "-modfile=cmd/release/nfpm.mod", "nfpm", "package",
		"--config", filepath.Join(stage, "nfpm.yaml"), "--packager", "deb", "--target", path)
	pack.Env = append(os.Environ(), "SOURCE_DATE_EPOCH="+strconv.FormatInt(r.date.Unix(), 10))
	return path, said(pack)
}

// fromFiles takes what stands beside this file, with the words between @ filled in, and of docs what a station needs.
func (r *release) fromFiles(stage string, fill *strings.Replacer) error {
	files, err := texts.ReadDir("deb")
	if err != nil {
		return err
	}
	for _, f := range files {
		text, err := texts.ReadFile("deb/" + f.Name())
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(stage, f.Name()), []byte(fill.Replace(string(text))), 0o644); err != nil {
			return err
		}
	}
	if err := os.Mkdir(filepath.Join(stage, "doc"), 0o755); err != nil {
		return err
	}
	for from, to := range map[string]string{
		r.program: "padjig", "docs/install.md": "doc/install.md", "docs/safety.md": "doc/safety.md",
		"CHANGELOG.md": "doc/CHANGELOG.md", "testdata/products/gcc-20.yaml": "doc/gcc-20.yaml",
	} {
		text, err := os.ReadFile(from)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(stage, to), text, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// fromProgram has the program write its manual and its completions.
func (r *release) fromProgram(ctx context.Context, stage string) error {
	program, err := filepath.Abs(cmp.Or(r.runs, r.program))
	if err != nil {
		return err
	}
	man := filepath.Join(stage, "man1")
	if err := os.Mkdir(man, 0o755); err != nil {
		return err
	}
	if err := said(exec.CommandContext(ctx, program, "manual", man)); err != nil {
		return err
	}
	if err := eachFile(man, zipped); err != nil {
		return err
	}
	for _, shell := range []string{"bash", "zsh", "fish"} {
		out, err := exec.CommandContext(ctx, program, "completion", shell).Output()
		if err != nil {
			return fmt.Errorf("completion for %s: %w", shell, err)
		}
		if err := os.WriteFile(filepath.Join(stage, shell), out, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// fromModules writes the licences of all that is linked, and the list of it.
func (r *release) fromModules(stage string, modules []module) error {
	own, err := os.ReadFile("LICENSE")
	if err != nil {
		return err
	}
	var text strings.Builder
	fmt.Fprintf(&text, "padjig\n======\n\n%s\n", own)
	for _, m := range modules {
		fmt.Fprintf(&text, "\n%s %s\n%s\n\n%s\n", m.Path, m.Version, strings.Repeat("=", len(m.Path)+1+len(m.Version)), m.licence)
	}
	if err := os.WriteFile(filepath.Join(stage, "doc/copyright"), []byte(text.String()), 0o644); err != nil {
		return err
	}
	list, err := bill(r.version, r.date, modules)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(stage, "doc/padjig.spdx.json"), list, 0o644)
}

// written makes sure that no word between @ was left.
func written(stage string) error {
	for _, name := range []string{"nfpm.yaml", "preinst", "postinst"} {
		text, err := os.ReadFile(filepath.Join(stage, name))
		if err != nil {
			return err
		}
		for _, word := range []string{"@VERSION@", "@STAGE@", "@ARCH@", "@GLIBC@", "@DATE@"} {
			if strings.Contains(string(text), word) {
				return fmt.Errorf("%s: %s was not filled in", name, word)
			}
		}
	}
	return nil
}

// binary is what the package has to know of the program.
type binary struct{ arch, glibc string }

// inspected reads for which machine a program is, and which C library it needs.
func inspected(path string) (binary, error) {
	f, err := elf.Open(path)
	if err != nil {
		return binary{}, fmt.Errorf("%s: %w", path, err)
	}
	defer f.Close()
	arch, known := debianNames[f.Machine]
	if !known {
		return binary{}, fmt.Errorf("%s is for %s, for which there are no packages", path, f.Machine)
	}
	if f.Section(".symtab") != nil || f.Section(".debug_info") != nil {
		return binary{}, fmt.Errorf("%s is not stripped: build it with -ldflags '-s -w'", path)
	}
	symbols, err := f.ImportedSymbols()
	if err != nil {
		return binary{}, fmt.Errorf("%s: %w", path, err)
	}
	newest := []int{2, 17}
	for _, s := range symbols {
		if v, is := strings.CutPrefix(s.Version, "GLIBC_"); is {
			newest = slices.MaxFunc([][]int{newest, numbers(v)}, slices.Compare[[]int])
		}
	}
	return binary{arch, fmt.Sprintf("%d.%d", newest[0], newest[1])}, nil
}

// numbers are those of a version such as 2.34.
func numbers(version string) []int {
	all := []int{}
	for part := range strings.SplitSeq(version, ".") {
		n, err := strconv.Atoi(part)
		if err != nil {
			return nil
		}
		all = append(all, n)
	}
	return all
}

// said runs a command; what it says is in its error.
func said(cmd *exec.Cmd) error {
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w\n%s", strings.Join(cmd.Args, " "), err, out)
	}
	return nil
}

func eachFile(dir string, do func(path string) error) error {
	return filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		return do(path)
	})
}
