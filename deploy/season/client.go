// Package season works an invented cooperative's season through the public REST API only, as its clerks, technicians
// and office would: it is the demo, the load of the robustness tests and an example of a client.
//
// Every mutation carries a request_id derived from what it does, so a season that was interrupted anywhere can be run
// again from its first step: what was already done answers as it did the first time.
package season

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
)

// namespace makes request ids of this client distinct from anybody else's.
var namespace = uuid.NewSHA1(uuid.NameSpaceURL, []byte("https://fallowcreek.example/season"))

// RequestID derives the request_id of one step from its description.
func RequestID(step ...any) string {
	return uuid.NewSHA1(namespace, []byte(fmt.Sprintln(step...))).String()
}

// StatusError is a refusal by the API.
type StatusError struct {
	HTTPStatus int
	Method     string
	Path       string
	Reason     string
	Message    string
	Body       string
}

func (e *StatusError) Error() string {
	return fmt.Sprintf("%s %s: HTTP %d %s: %s", e.Method, e.Path, e.HTTPStatus, e.Reason, e.Message)
}

// Client speaks to one gateway.
type Client struct {
	Base string
	HTTP *http.Client
	// Patience bounds how long one call is repeated while the suite is unreachable or restarting.
	Patience time.Duration
}

// NewClient speaks to the gateway at base and keeps a connection open for each lane.
func NewClient(base string, patience time.Duration) *Client {
	transport := &http.Transport{MaxIdleConnsPerHost: 64, IdleConnTimeout: 90 * time.Second}
	return &Client{Base: base, HTTP: &http.Client{Transport: transport, Timeout: time.Minute}, Patience: patience}
}

// Session is a signed-in client.
type Session struct {
	client *Client
	login  string
	token  string
}

// SignIn opens a session.
func (c *Client) SignIn(ctx context.Context, login, password string) (*Session, error) {
	body, err := json.Marshal(map[string]string{"login": login, "password": password})
	if err != nil {
		return nil, err
	}
	s := &Session{client: c, login: login}
	answer, err := s.send(ctx, http.MethodPost, "/v1/sessions", body)
	if err != nil {
		return nil, fmt.Errorf("sign in as %s: %w", login, err)
	}
	var got struct {
		Token string `json:"token"`
	}
	if err := json.Unmarshal(answer, &got); err != nil || got.Token == "" {
		return nil, fmt.Errorf("sign in as %s: no token in the answer", login)
	}
	s.token = got.Token
	return s, nil
}

// Send makes one call without repeating it and returns the HTTP status and the body, refusals included.
func (s *Session) Send(ctx context.Context, method, path string, body []byte) (int, []byte, error) {
	answer, err := s.once(ctx, method, path, body)
	if status, ok := errors.AsType[*StatusError](err); ok {
		return status.HTTPStatus, []byte(status.Body), nil
	}
	return http.StatusOK, answer, err
}

// Post sends a message and reads the answer into another.
func (s *Session) Post(ctx context.Context, path string, req, resp proto.Message) error {
	body, err := protojson.Marshal(req)
	if err != nil {
		return err
	}
	answer, err := s.send(ctx, http.MethodPost, path, body)
	if err != nil {
		return err
	}
	return decode(path, answer, resp)
}

// PostJSON sends plain JSON to an endpoint that is not one of the services'.
func (s *Session) PostJSON(ctx context.Context, path string, req any) error {
	body, err := json.Marshal(req)
	if err != nil {
		return err
	}
	_, err = s.send(ctx, http.MethodPost, path, body)
	return err
}

// Get reads a resource.
func (s *Session) Get(ctx context.Context, path string, resp proto.Message) error {
	answer, err := s.send(ctx, http.MethodGet, path, nil)
	if err != nil {
		return err
	}
	return decode(path, answer, resp)
}

func decode(path string, answer []byte, resp proto.Message) error {
	if err := (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal(answer, resp); err != nil {
		return fmt.Errorf("%s: answer: %w", path, err)
	}
	return nil
}

// send repeats a call until the suite has answered it: the request_id makes a repeat harmless.
func (s *Session) send(ctx context.Context, method, path string, body []byte) ([]byte, error) {
	deadline := time.Now().Add(s.client.Patience)
	for wait := 50 * time.Millisecond; ; wait = min(2*wait, time.Second) {
		answer, err := s.once(ctx, method, path, body)
		if err == nil || !temporary(err) || time.Now().After(deadline) {
			return answer, err
		}
		select {
		case <-ctx.Done():
			return nil, errors.Join(ctx.Err(), err)
		case <-time.After(wait):
		}
	}
}

func (s *Session) once(ctx context.Context, method, path string, body []byte) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, method, s.client.Base+path, bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	req.Header.Set("Content-Type", "application/json")
	if s.token != "" {
		req.Header.Set("Authorization", "Bearer "+s.token)
	}
	resp, err := s.client.HTTP.Do(req)
	if err != nil {
		return nil, err
	}
	answer, err := io.ReadAll(resp.Body)
	if closeErr := resp.Body.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return nil, err
	}
	if resp.StatusCode >= 300 {
		return nil, refusal(method, path, resp.StatusCode, answer)
	}
	return answer, nil
}

func refusal(method, path string, status int, body []byte) error {
	e := &StatusError{HTTPStatus: status, Method: method, Path: path, Body: string(body)}
	var got struct {
		Error struct {
			Message string `json:"message"`
			Reason  string `json:"reason"`
		} `json:"error"`
	}
	if json.Unmarshal(body, &got) == nil {
		e.Message, e.Reason = got.Error.Message, got.Error.Reason
	}
	return e
}

// temporary says whether asking again can help: the network failed, or the suite said it is not there just now.
func temporary(err error) bool {
	if status, ok := errors.AsType[*StatusError](err); ok {
		switch status.HTTPStatus {
		case http.StatusBadGateway, http.StatusServiceUnavailable, http.StatusGatewayTimeout:
			return true
		}
		return status.Reason == "TRANSACTION_CONFLICT" || status.Reason == "NOT_YET_KNOWN"
	}
	return !errors.Is(err, context.Canceled)
}
