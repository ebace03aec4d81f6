package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/web"
)

// serveFlags say where the desk listens and who gets in.
type serveFlags struct {
	storeFlag
	listen     string
	passphrase string // file
	hosts      []string
	cert, key  string
	sheets     []string
	overlays   []string
}

func newServeCommand() *cobra.Command {
	var f serveFlags
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Open the desk: attempts, review and cohorts as pages in the browser",
		Long: `Serve pages on this computer for those who would rather not use a terminal: add an
attempt, review its marks beside the recording, see a student, see a cohort. The
pages work on the same store as the other commands, which may be used meanwhile.
Open the address that is printed in a browser; Ctrl-C ends it.

Only this computer gets in. To let others in, name an address of the network with
--listen and a file with a passphrase of 12 characters or more with --passphrase;
give a certificate as well, since without one what is sent can be read on the way.
On a computer that several people use, --passphrase keeps the others out too.`,
		Example: `  markaround serve
  markaround serve --store fall.db --listen 127.0.0.1:9000
  markaround serve --listen 192.0.2.7:8417 --passphrase desk.txt --cert desk.pem --key desk.key`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return serve(cmd.Context(), f, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVar(&f.listen, "listen", "127.0.0.1:8417", "address and port")
	fl.StringVar(&f.passphrase, "passphrase", "", "file whose first line lets in")
	fl.StringArrayVar(&f.hosts, "host", nil, "name that browsers know this computer by, beside localhost; may be repeated")
	fl.StringVar(&f.cert, "cert", "", "certificate for TLS (PEM)")
	fl.StringVar(&f.key, "key", "", "its key (PEM)")
	fl.StringArrayVar(&f.sheets, "rubric", nil, "score sheet to choose beside the built-in ones, a .yaml file; may be repeated")
	fl.StringArrayVar(&f.overlays, "with", nil, "overlay to choose beside the built-in ones, a .yaml file; may be repeated")
	f.storeFlag.add(fl)
	return cmd
}

// check finds flags that do not go together before anything is opened, and reads
// the passphrase.
func (f *serveFlags) check() (passphrase string, err error) {
	host, _, err := net.SplitHostPort(f.listen)
	if err != nil {
		return "", fmt.Errorf("--listen %s: write address and port, such as 127.0.0.1:8417", f.listen)
	}
	ip := net.ParseIP(host)
	loopback := host == "localhost" || ip != nil && ip.IsLoopback()
	switch {
	case !loopback && f.passphrase == "":
		return "", fmt.Errorf("--listen %s: lets other computers in; add --passphrase FILE, or listen on 127.0.0.1", f.listen)
	case (f.cert == "") != (f.key == ""):
		return "", errors.New("--cert and --key go together; give both or neither")
	case f.passphrase == "":
		return "", nil
	}
	data, err := os.ReadFile(f.passphrase)
	if err != nil {
		return "", pathError(err)
	}
	line, _, _ := strings.Cut(string(data), "\n")
	if line = strings.TrimSpace(line); line == "" {
		return "", fmt.Errorf("%s: its first line is empty; write a passphrase of 12 characters or more", f.passphrase)
	}
	return line, nil
}

func serve(ctx context.Context, f serveFlags, stdout, stderr io.Writer) error {
	passphrase, err := f.check()
	if err != nil {
		return err
	}
	st, err := f.open(ctx, true)
	if err != nil {
		return err
	}
	defer st.Close()
	var mu sync.Mutex
	desk, err := web.New(st, web.Options{
		Tool: "markaround " + versionText(), Passphrase: passphrase, Hosts: f.hosts, TLS: f.cert != "",
		Sheets: f.sheets, Overlays: f.overlays,
		Log: func(line string) {
			mu.Lock()
			defer mu.Unlock()
			note(stderr, false, line)
		},
	})
	if err != nil {
		return err
	}
	defer desk.Close()
	l, err := net.Listen("tcp", f.listen)
	if err != nil {
		return fmt.Errorf("--listen %s: %w; another desk may be open there, or name another port", f.listen, errors.Unwrap(err))
	}
	server := &http.Server{Handler: desk, ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10}
	scheme := "http"
	if f.cert != "" {
		scheme = "https"
	}
	fmt.Fprintf(stdout, "the desk over %s is open at %s://%s/ until Ctrl-C\n", st.Where(), scheme, l.Addr())
	if ip, _ := l.Addr().(*net.TCPAddr); scheme == "http" && ip != nil && !ip.IP.IsLoopback() {
		note(stderr, false, "without --cert and --key, passphrase and pages can be read on the network")
	}
	ended := make(chan error, 1)
	go func() {
		if f.cert != "" {
			ended <- server.ServeTLS(l, f.cert, f.key)
		} else {
			ended <- server.Serve(l)
		}
	}()
	select {
	case err := <-ended:
		return fmt.Errorf("the desk ended: %w", err)
	case <-ctx.Done():
	}
	// What is being decided is kept first.
	stop, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if err := server.Shutdown(stop); err != nil {
		server.Close()
	}
	return nil
}
