package edge

import (
	"fmt"
	"net/http"
	"net/netip"
	"regexp"
	"runtime/debug"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/prometheus/client_golang/prometheus"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/propagation"
	"go.opentelemetry.io/otel/trace"
	"go.uber.org/zap"

	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/telemetry"
)

const (
	// MostBody is the largest request body, in bytes. A price schedule of a thousand rows is a tenth of it.
	MostBody = 1 << 20
	// MostLog is that of the file of a temperature logger: four weeks of a probe read each minute, in rows of up to a hundred bytes.
	MostLog = 4 << 20
)

// mostBody is the largest body of a request.
func mostBody(r *http.Request) int64 {
	path, stay := strings.CutPrefix(r.URL.Path, "/v1/heatStays/")
	if r.URL.Path == "/heat/new" || stay && strings.HasSuffix(path, "/readings") {
		return MostLog
	}
	return MostBody
}

const requestIDHeader = "X-Request-Id"

var requestIDPattern = regexp.MustCompile(`^[A-Za-z0-9._-]{8,64}$`)

// Options of the outer layer.
type Options struct {
	Log     *zap.Logger
	Metrics *telemetry.Registry
	Tracer  trace.Tracer
	Clock   clock.Clock
	// Trusted are the networks of our own reverse proxies.
	Trusted []netip.Prefix
	// Secure says that browsers reach us by HTTPS only.
	Secure bool
}

type wrapper struct {
	Options
	next    http.Handler
	handled *prometheus.CounterVec
	seconds *prometheus.HistogramVec
}

// Wrap gives every request an id, an address and a span, limits its body, survives its panics, and writes one access
// line. The line holds neither query nor body: both may hold what is nobody's business.
func Wrap(next http.Handler, o Options) http.Handler {
	return &wrapper{
		Options: o, next: next,
		handled: o.Metrics.Counter("http_handled_total", "Requests answered.", "area", "code"),
		seconds: o.Metrics.Histogram("http_handling_seconds", "Time to answer a request.", nil, "area"),
	}
}

func (h *wrapper) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	start := h.Clock.Now()
	c := &call{requestID: requestID(r), address: addressOf(r, h.Trusted)}
	ctx := propagation.TraceContext{}.Extract(r.Context(), propagation.HeaderCarrier(r.Header))
	ctx, span := h.Tracer.Start(ctx, r.Method+" "+area(r.URL.Path), trace.WithSpanKind(trace.SpanKindServer))
	defer span.End()
	r = r.WithContext(withCall(ctx, c))
	r.Body = http.MaxBytesReader(w, r.Body, mostBody(r))
	answer := &recorder{ResponseWriter: w, status: http.StatusOK}
	h.headers(answer.Header(), c.requestID)
	h.serve(answer, r)
	span.SetAttributes(attribute.Int("http.response.status_code", answer.status))
	h.note(r, c, answer, h.Clock.Now().Sub(start))
}

// serve turns a panic into an answer; the stack goes to the log.
func (h *wrapper) serve(w *recorder, r *http.Request) {
	defer func() {
		cause := recover()
		if cause == nil {
			return
		}
		if cause == http.ErrAbortHandler { //nolint:errorlint // a sentinel that is panicked with, not an error value
			panic(cause)
		}
		h.Log.Error("request handler panicked", zap.String("request_id", RequestID(r.Context())),
			zap.String("cause", fmt.Sprint(cause)), zap.ByteString("stack", debug.Stack()))
		if !w.wrote {
			http.Error(w, "Something went wrong on our side. Nothing was changed. Try again, and tell the office this number if it stays: "+
				RequestID(r.Context()), http.StatusInternalServerError)
		}
	}()
	h.next.ServeHTTP(w, r)
}

// headers every answer carries, page or not. Pages add their own content policy.
func (h *wrapper) headers(header http.Header, requestID string) {
	header.Set(requestIDHeader, requestID)
	header.Set("X-Content-Type-Options", "nosniff")
	header.Set("Referrer-Policy", "same-origin")
	header.Set("Cross-Origin-Opener-Policy", "same-origin")
	header.Set("Cross-Origin-Resource-Policy", "same-origin")
	header.Set("X-Frame-Options", "DENY")
	if h.Secure {
		header.Set("Strict-Transport-Security", "max-age=31536000")
	}
}

func (h *wrapper) note(r *http.Request, c *call, answer *recorder, took time.Duration) {
	where := area(r.URL.Path)
	h.handled.WithLabelValues(where, strconv.Itoa(answer.status)).Inc()
	h.seconds.WithLabelValues(where).Observe(took.Seconds())
	if where == "health" {
		return
	}
	login := ""
	if p := c.login.Load(); p != nil {
		login = *p
	}
	h.Log.Info("request", zap.String("request_id", c.requestID), zap.String("method", r.Method), zap.String("path", r.URL.Path),
		zap.Int("status", answer.status), zap.Duration("took", took), zap.String("login", login), zap.String("address", c.address))
}

// requestID takes a caller's own id if it is harmless in a log line.
func requestID(r *http.Request) string {
	if given := r.Header.Get(requestIDHeader); requestIDPattern.MatchString(given) {
		return given
	}
	return uuid.NewString()
}

// area keeps the number of metric series small.
func area(path string) string {
	switch {
	case strings.HasPrefix(path, "/v1/"):
		return "rest"
	case path == "/healthz" || path == "/readyz":
		return "health"
	case strings.HasPrefix(path, "/static/"):
		return "static"
	default:
		return "pages"
	}
}

type recorder struct {
	http.ResponseWriter
	status int
	wrote  bool
}

func (r *recorder) WriteHeader(status int) {
	if !r.wrote {
		r.status, r.wrote = status, true
	}
	r.ResponseWriter.WriteHeader(status)
}

func (r *recorder) Write(b []byte) (int, error) {
	r.wrote = true
	return r.ResponseWriter.Write(b)
}

// Unwrap lets http.ResponseController reach what is underneath.
func (r *recorder) Unwrap() http.ResponseWriter { return r.ResponseWriter }
