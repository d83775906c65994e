# The pages of web/: built with npm and compiled into the server.
#
# DRYFRONT_PAGES: AUTO builds them where node (18 or newer) and npm are there, ON insists, OFF leaves them out; the server then
# says so at /. All builds below build/ share one page build in build/web; any other build has its own.
set(DRYFRONT_PAGES "AUTO" CACHE STRING "Build the pages with npm and compile them in: AUTO, ON or OFF")
set_property(CACHE DRYFRONT_PAGES PROPERTY STRINGS AUTO ON OFF)
set(DRYFRONT_WEB "${PROJECT_SOURCE_DIR}/web" CACHE PATH "Source of the pages")
mark_as_advanced(DRYFRONT_WEB)

set(pages_out "${generated_dir}/embedded_pages.inc")
set(pages_missing "")
if(NOT DRYFRONT_PAGES STREQUAL "OFF")
  find_program(DRYFRONT_NODE node)
  find_program(DRYFRONT_NPM npm)
  mark_as_advanced(DRYFRONT_NODE DRYFRONT_NPM)
  if(NOT EXISTS "${DRYFRONT_WEB}/package.json")
    set(pages_missing "${DRYFRONT_WEB}/package.json is not there")
  elseif(NOT DRYFRONT_NODE OR NOT DRYFRONT_NPM)
    set(pages_missing "node and npm are not there")
  else()
    execute_process(COMMAND "${DRYFRONT_NODE}" --version OUTPUT_VARIABLE node_version OUTPUT_STRIP_TRAILING_WHITESPACE
      ERROR_QUIET)
    string(REPLACE "v" "" node_version "${node_version}")
    if(node_version VERSION_LESS 18)
      set(pages_missing "node is older than 18 (${node_version})")
    endif()
  endif()
  if(pages_missing AND NOT DRYFRONT_PAGES STREQUAL "AUTO")
    message(FATAL_ERROR "DRYFRONT_PAGES=${DRYFRONT_PAGES}: ${pages_missing}")
  elseif(pages_missing)
    message(STATUS "The server is built without its pages: ${pages_missing}")
  endif()
endif()

if(DRYFRONT_PAGES STREQUAL "OFF" OR pages_missing)
  add_custom_command(OUTPUT "${pages_out}" COMMAND embed "${pages_out}" DEPENDS embed VERBATIM)
else()
  file(GLOB_RECURSE web_files CONFIGURE_DEPENDS "${DRYFRONT_WEB}/src/*" "${DRYFRONT_WEB}/public/*")
  file(GLOB web_settings CONFIGURE_DEPENDS "${DRYFRONT_WEB}/*.json" "${DRYFRONT_WEB}/*.html" "${DRYFRONT_WEB}/*.ts"
    "${DRYFRONT_WEB}/*.mjs" "${DRYFRONT_WEB}/.npmrc")
  set(pages_work "${PROJECT_BINARY_DIR}/web")
  string(FIND "${PROJECT_BINARY_DIR}/" "${PROJECT_SOURCE_DIR}/build/" inside)
  if(inside EQUAL 0)
    set(pages_work "${PROJECT_SOURCE_DIR}/build/web")
  endif()
  add_custom_command(OUTPUT "${pages_out}"
    COMMAND "${CMAKE_COMMAND}" "-DWEB=${DRYFRONT_WEB}" "-DWORK=${pages_work}" "-DOUT=${pages_out}" "-DMODE=${DRYFRONT_PAGES}"
      "-DNODE=${DRYFRONT_NODE}" "-DNPM=${DRYFRONT_NPM}" "-DEMBED=$<TARGET_FILE:embed>"
      -P "${PROJECT_SOURCE_DIR}/cmake/build-pages.cmake"
    DEPENDS embed ${web_files} ${web_settings} "${PROJECT_SOURCE_DIR}/cmake/build-pages.cmake"
      "${PROJECT_SOURCE_DIR}/tools/pack-pages.mjs"
    COMMENT "Building the pages"
    VERBATIM)
endif()
