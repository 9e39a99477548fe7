// Reads the API's document, and sends what is tried with the session and its CSRF token.
"use strict";
const place = document.getElementById("docs");
const csrf = () => (document.cookie.match(/(?:^|; )csrftoken=([^;]+)/) || [])[1] || "";
SwaggerUIBundle({
  url: place.dataset.document,
  domNode: place,
  deepLinking: true,
  docExpansion: "list",
  defaultModelsExpandDepth: 0,
  displayRequestDuration: true,
  validatorUrl: null,
  requestInterceptor: (request) => {
    request.headers["X-CSRFToken"] = csrf();
    return request;
  },
});
