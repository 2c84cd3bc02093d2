"use strict";
SwaggerUIBundle({ url: "/openapi.json", dom_id: "#docs", deepLinking: true, validatorUrl: null });
